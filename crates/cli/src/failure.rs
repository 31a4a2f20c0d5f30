//! What a failure says, and the exit status it gives: 2 for bad usage or bad input, 1 for anything else.

use noonfall_drawing::TypesetError;
use noonfall_drawing::chart::ChartError;
use noonfall_drawing::map::MapError;
use noonfall_drawing::raster::RasterError;
use noonfall_ephemeris::{DeltaTError, KernelError};
use noonfall_exchange::ExchangeError;
use noonfall_render::publish::PublishError;
use noonfall_scoring::fault::{Fault, Faults};
use noonfall_scoring::outlook::sunlit::survey::SurveyError;
use noonfall_scoring::trip::RunError;
use noonfall_shadow::catalogue::CatalogueError;
use noonfall_shadow::moon_edge::MoonGridError;
use noonfall_shadow::{EclipseError, SiteError};
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

/// Why a command did not finish.
#[derive(Debug)]
pub enum Failure {
    /// The user can mend it: exit status 2.
    BadInput(String),
    /// Something else: exit status 1.
    Other(String),
    /// Whoever read our output stopped reading. Nothing to report.
    ReaderGone,
}

impl Failure {
    /// A file or folder that cannot be written.
    pub fn cannot_write(path: &Path, error: &std::io::Error) -> Failure {
        Failure::BadInput(format!(
            "{}: cannot be written ({error}); give a folder that exists or can be made, with room and permission",
            path.display()
        ))
    }

    /// Says it on standard error and gives the status.
    pub fn report(&self) -> ExitCode {
        let (text, status) = match self {
            Failure::BadInput(text) => (text, 2),
            Failure::Other(text) => (text, 1),
            Failure::ReaderGone => return ExitCode::SUCCESS,
        };
        let mut stderr = std::io::stderr().lock();
        for line in text.lines() {
            // A terminal that is gone cannot be told.
            let _ = writeln!(stderr, "noonfall: {line}");
        }
        ExitCode::from(status)
    }
}

impl From<Faults> for Failure {
    fn from(faults: Faults) -> Failure {
        Failure::BadInput(faults.to_string())
    }
}

impl From<Fault> for Failure {
    fn from(fault: Fault) -> Failure {
        Failure::BadInput(fault.to_string())
    }
}

impl From<RunError> for Failure {
    fn from(error: RunError) -> Failure {
        match error {
            RunError::Stopped | RunError::Disk(_) => Failure::Other(error.to_string()),
            other => Failure::BadInput(other.to_string()),
        }
    }
}

impl From<SurveyError> for Failure {
    fn from(error: SurveyError) -> Failure {
        match error {
            SurveyError::Stopped | SurveyError::Write(_) => Failure::Other(error.to_string()),
            other => Failure::BadInput(other.to_string()),
        }
    }
}

macro_rules! other {
    ($($error:ty),*) => {
        $(impl From<$error> for Failure {
            fn from(error: $error) -> Failure {
                Failure::Other(error.to_string())
            }
        })*
    };
}

other!(ExchangeError, MapError, PublishError, RasterError, TypesetError, serde_json::Error);

macro_rules! bad_input {
    ($($error:ty),*) => {
        $(impl From<$error> for Failure {
            fn from(error: $error) -> Failure {
                Failure::BadInput(error.to_string())
            }
        })*
    };
}

bad_input!(ChartError, EclipseError, CatalogueError, KernelError, DeltaTError, SiteError, MoonGridError);
