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
        "2 columns are named 'Sensor 2'. give the one that is meant a name of its own",
    );
}

#[test]
fn what_is_not_recognised_is_asked_for() {
    let layout = Layout::default();
    let remedy = "name the columns in the config, for example columns = { date = \"...\", min = \"...\", max = \"...\" }";
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
fn units_are_read_from_names() {
    for text in [
        "tmin_c",
        "Temp °C",
        "Temp [C]",
        "Deg C",
        "degC",
        "temp (celsius)",
        "t (°C)",
        "°C",
    ] {
        assert_eq!(unit_in(text), Some(Unit::C), "{text}");
    }
    for text in ["tmin_f", "TEMP (°F)", "Deg F", "temp_fahrenheit"] {
        assert_eq!(unit_in(text), Some(Unit::F), "{text}");
    }
    for text in ["tmin", "Temperature", "Max Temp Flag", ""] {
        assert_eq!(unit_in(text), None, "{text}");
    }
}
