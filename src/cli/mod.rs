//! The commands: arguments, and one match.
