//! Tests of the whole, in one binary so that it is linked once.

mod published;
