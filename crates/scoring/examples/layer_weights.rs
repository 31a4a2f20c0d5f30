//! Rebuilds `data/shadow_bands/layer-weights.csv`:
//! `cargo run --release -p noonfall-scoring --example layer_weights data/shadow_bands/layer-weights.csv`

fn main() -> std::io::Result<()> {
    let text = noonfall_scoring::outlook::scintillation::table_csv();
    match std::env::args_os().nth(1) {
        Some(path) => std::fs::write(path, text),
        None => std::io::Write::write_all(&mut std::io::stdout(), text.as_bytes()),
    }
}
