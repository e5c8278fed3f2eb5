use super::*;

/// The columns that are found, as `role=name`, and the unit; or what is said.
#[track_caller]
fn check(header: &str, layout: &Layout, expect: &str) {
    let header: Vec<String> = header.split(';').map(str::to_owned).collect();
    let found = match find(&header, layout) {
        Ok(places) => {
            let columns = names(&header, &places);
            let roles = [
                ("date", columns.date),
                ("time", columns.time),
                ("zone", columns.zone),
                ("min", columns.min),
                ("max", columns.max),
                ("temp", columns.temp),
                ("gust", columns.gust),
                ("rain", columns.rain),
            ];
            let mut said: Vec<String> = roles
                .into_iter()
                .filter_map(|(role, name)| Some(format!("{role}={}", name?)))
                .collect();
            said.extend(places.unit.map(|unit| format!("{unit:?}")));
            said.join(" ")
        }
        Err((what, remedy)) => format!("{what}. {remedy}"),
    };
    assert_eq!(found, expect);
}

#[test]
fn usual_names_are_recognised() {
    let layout = Layout::default();
    check(
        "date;tmin_c;tmax_c",
        &layout,
        "date=date min=tmin_c max=tmax_c C",
    );
    check(
        "Date;Tmin_F;Tmax_F",
        &layout,
        "date=Date min=Tmin_F max=Tmax_F F",
    );
    check("date;min;max", &layout, "date=date min=min max=max");
    check(
        "Date/Time;Year;Max Temp (°C);Max Temp Flag;Min Temp (°C)",
        &layout,
        "date=Date/Time min=Min Temp (°C) max=Max Temp (°C) C",
    );
    check(
        "Date;Time;Temperature (F);Humidity (%)",
        &layout,
        "date=Date time=Time temp=Temperature (F) F",
    );
    check("time;Barometer;Temp", &layout, "date=time temp=Temp");
    check(
        "day;tmin;tmax;gust_kmh;rain_mm",
        &layout,
        "date=day min=tmin max=tmax gust=gust_kmh rain=rain_mm",
    );
    check(
        "day;tmin;tmax;Gust (km/h);Rain (mm)",
        &layout,
        "date=day min=tmin max=tmax gust=Gust (km/h) rain=Rain (mm)",
    );
}

fn with_columns(columns: Columns) -> Layout {
    Layout {
        columns,
        ..Layout::default()
    }
}

#[test]
fn named_columns_come_first() {
    let layout = with_columns(Columns {
        temp: Some("Sensor 2".into()),
        ..Columns::default()
    });
    check(
        "date;tmin;tmax;sensor 2",
        &layout,
        "date=date temp=sensor 2",
    );
    check(
        "date;sensor 1",
        &layout,
        "there is no column 'Sensor 2'; the header reads \"date, sensor 1\". perhaps 'sensor 1' is meant: correct the name in the config",
    );
    check(
        "date;Sensor 2;Sensor 2",
        &layout,
        "2 columns are named 'Sensor 2'. name the one that is meant by its number in the config: \"#2\" is the first of them",
    );
}

#[test]
fn what_is_not_recognised_is_asked_for() {
    let layout = Layout::default();
    let remedy = "name the columns in the config, for example columns = { date = \"...\", min = \"...\", max = \"...\" }, or by number: \"#3\"";
    check(
        "a;tmin;tmax",
        &layout,
        &format!(
            "no column for the dates is recognised; the header reads \"a, tmin, tmax\". {remedy}"
        ),
    );
    check(
        "date;tmin;b",
        &layout,
        &format!(
            "no column for the temperatures is recognised; the header reads \"date, tmin, b\". {remedy}"
        ),
    );
    check(
        "date;tmin_c;tmax_f",
        &layout,
        "one temperature column is in °C and another in °F. name two columns of one unit in the config",
    );
}

#[test]
fn a_column_may_have_a_number() {
    let numbers = |date: &str, temp: &str| {
        with_columns(Columns {
            date: Some(date.into()),
            temp: Some(temp.into()),
            ..Columns::default()
        })
    };
    check(
        "date;Temp;RH;Temp;RH",
        &numbers("date", "#4"),
        "date=date temp=#4",
    );
    check(";a;b", &numbers("#1", "#3"), "date=#1 temp=b");
    check(
        "date;a;b",
        &numbers("date", "#4"),
        "there is no column #4; the header has 3 and reads \"date, a, b\". correct the number in the config",
    );
    assert!(by_numbers(&numbers("#1", "#3").columns));
    assert!(!by_numbers(&numbers("date", "#3").columns));
}

/// Grouped names: which of two sensors is meant nobody can guess.
#[test]
fn the_same_name_twice_is_asked_about() {
    check(
        "Date;Time;Temp;RH;Temp;RH",
        &Layout::default(),
        "2 columns are named 'Temp'. name the one that is meant by its number in the config: \"#3\" is the first of them",
    );
}

#[test]
fn intervals_extremes_are_better_than_readings() {
    check(
        "time;Barometer;Temp;High Temp;Low Temp;Hum",
        &Layout::default(),
        "date=time min=Low Temp max=High Temp",
    );
    check(
        "date;Time;TZ;AirTC_Avg",
        &Layout::default(),
        "date=date time=Time zone=TZ temp=AirTC_Avg",
    );
}
