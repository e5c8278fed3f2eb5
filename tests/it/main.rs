//! Tests of the whole, in one binary so that it is linked once.

#![expect(
    clippy::format_collect,
    reason = "the texts are short, and the tests read better"
)]

mod bad_input;
mod cli;
mod commands;
mod heat;
mod note;
mod open_meteo;
mod program;
mod published;
mod register;
mod restart;
mod rounds;
mod season;
mod service;
mod smtp;
mod smtp_server;
mod tidy;
mod weather_server;
