//! Rebuilds the tables of `data/shadow_bands/`:
//! `cargo run --release -p noonfall-scoring --example layer_weights data/shadow_bands`

use noonfall_scoring::outlook::scintillation::{seen_table_csv, table_csv};

fn main() -> std::io::Result<()> {
    let folder = std::path::PathBuf::from(std::env::args_os().nth(1).unwrap_or_else(|| "data/shadow_bands".into()));
    std::fs::write(folder.join("layer-weights.csv"), table_csv())?;
    std::fs::write(folder.join("seen-weights.csv"), seen_table_csv())
}
