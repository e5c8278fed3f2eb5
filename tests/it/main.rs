//! Tests of the whole, in one binary so that it is linked once.

mod open_meteo;
mod published;
mod smtp;
mod smtp_server;
mod weather_server;
