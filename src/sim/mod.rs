//! The simulator: scenes with exact truth to photo bytes.
