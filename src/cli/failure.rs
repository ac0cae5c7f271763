//! Why a command could not do its work.

use std::io;

/// A command that failed.
#[derive(Debug)]
pub(super) enum Failure {
    /// Whoever read the output has gone: no error.
    Closed,
    /// Told to the user as it is.
    Told(String),
}

impl Failure {
    /// Bad usage or unreadable input, in a sentence that says what to do.
    pub fn usage(text: impl Into<String>) -> Self {
        Self::Told(format!("seepwise: {}", text.into()))
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            Self::Closed
        } else {
            Self::usage(error.to_string())
        }
    }
}

macro_rules! told {
    ($($error:ty),*) => {$(
        impl From<$error> for Failure {
            fn from(error: $error) -> Self {
                Self::usage(error.to_string())
            }
        }
    )*};
}

told!(
    crate::advise::AdviseError,
    crate::advise::ClosingError,
    crate::advise::SheetError,
    crate::graph::GraphError,
    crate::job::JobProblem,
    crate::job::StoreError,
    crate::measure::plan::PlanError,
    crate::train::TrainError
);
