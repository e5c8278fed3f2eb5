//! Tests of the whole, in one binary so that it is linked once.

#![expect(
    clippy::format_collect,
    reason = "the texts are short, and the tests read better"
)]

mod ahead;
mod answers;
mod arrival;
mod bad_input;
mod bright_sky;
mod carriers;
mod catalogue;
mod chain;
mod cli;
mod commands;
mod damaged;
mod dates;
mod dead_line;
mod export;
mod heat;
mod heat_letters;
mod hook;
mod imap;
mod imap_server;
mod keeping;
mod known_again;
mod large_letters;
mod learning;
mod logger_only;
mod met_norway;
mod noaa_daily;
mod note;
mod old_stores;
mod open_meteo;
mod pages;
mod planning;
mod program;
mod published;
mod quality;
mod register;
mod restart;
mod restart_fetching;
mod rounds;
mod scripted_server;
mod season;
mod secrets;
mod seen;
mod service;
mod smtp;
mod smtp_server;
mod soak;
mod station;
mod tidy;
mod trial;
mod tune;
mod us_weather_service;
mod weather_documents;
mod weather_server;
mod weekend;
mod wind_and_rain;
