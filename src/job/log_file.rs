//! A gauge log as a table (`minute,psi`) → readings.
//!
//! In: a file of a [`Sources`] table. Out: readings in kPa with the line of each, or notices.
//! Columns: `minute`, one of `psi`, `kpa` and `bar`, and if noted `coolant_c` and `air_c`, in any
//! order, parted by commas or semicolons. Lines that begin with `#` are passed over.

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::measure::hold::{MOST_READINGS, Reading};
use crate::measure::units::{PressureUnit, Unit};
use crate::notice::{Notice, Notices, codes};
use crate::source::{SourceId, Sources, Span};

/// A log as read.
#[derive(Debug, Clone, PartialEq)]
pub struct LogFile {
    /// The readings, in order.
    pub readings: Vec<Reading>,
    /// Where each stands.
    pub lines: Vec<Span>,
    /// The unit of the pressures, as written.
    pub unit: PressureUnit,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Column {
    Minute,
    Gauge(PressureUnit),
    Coolant,
    Air,
}

const COLUMNS: [(&str, Column); 6] = [
    ("minute", Column::Minute),
    ("psi", Column::Gauge(PressureUnit::Psi)),
    ("kpa", Column::Gauge(PressureUnit::KiloPascal)),
    ("bar", Column::Gauge(PressureUnit::Bar)),
    ("coolant_c", Column::Coolant),
    ("air_c", Column::Air),
];
const EXAMPLE: &str = "the first line names the columns: `minute,psi` (or `kpa`, `bar`), and if noted `coolant_c` and `air_c`";

/// Reads a gauge log.
///
/// # Errors
/// Every line that is not understood, up to twenty.
pub fn read_gauge_log(file: SourceId, sources: &Sources) -> Result<LogFile, Notices> {
    const MOST_NOTICES: usize = 20;
    let text = &sources.file(file).text;
    let header_at = line_from(text, 0);
    let header_line = text[header_at..].lines().next();
    let semicolons = header_line.is_some_and(|line| line.contains(';'));
    let mut reader = ReaderBuilder::new()
        .delimiter(if semicolons { b';' } else { b',' })
        .comment(Some(b'#'))
        .flexible(true)
        .trim(Trim::All)
        .from_reader(text.as_bytes());
    let mut notices = Notices::new();
    let line_span = |from: usize| {
        let start = line_from(text, from);
        let end = text[start..]
            .find(['\r', '\n'])
            .map_or(text.len(), |at| start + at);
        Span::new(file, start, end)
    };
    let line_at = |record: &StringRecord| {
        let byte = record.position().map(csv::Position::byte);
        line_span(byte.and_then(|at| usize::try_from(at).ok()).unwrap_or(0))
    };
    let header = reader.headers().cloned().unwrap_or_default();
    let columns = match columns(&header, line_span(header_at)) {
        Ok(columns) => columns,
        Err(notice) => {
            notices.push(notice);
            return Err(notices);
        }
    };
    let (mut readings, mut lines) = (Vec::new(), Vec::new());
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let at = Span::new(file, 0, 0);
                notices.push(Notice::error(codes::SYNTAX, at, error.to_string()));
                break;
            }
        };
        let at = line_at(&record);
        match reading(&record, &columns) {
            Ok(reading) => {
                readings.push(reading);
                lines.push(at);
            }
            Err((code, message)) => notices
                .push(Notice::error(code, at, message).help("correct that line or leave it out")),
        }
        if readings.len() > MOST_READINGS || notices.len() >= MOST_NOTICES {
            break;
        }
    }
    if notices.is_empty() {
        let unit = columns.iter().find_map(|column| match column {
            Column::Gauge(unit) => Some(*unit),
            _ => None,
        });
        Ok(LogFile {
            readings,
            lines,
            unit: unit.unwrap_or(PressureUnit::Psi),
        })
    } else {
        Err(notices)
    }
}

/// Where the next line begins that is neither empty nor a remark.
fn line_from(text: &str, from: usize) -> usize {
    let mut at = from.min(text.len());
    for line in text[at..].split_inclusive('\n') {
        if !line.trim().is_empty() && !line.trim_start().starts_with('#') {
            return at;
        }
        at += line.len();
    }
    at
}

/// What each column of the header holds.
fn columns(header: &StringRecord, at: Span) -> Result<Vec<Column>, Notice> {
    let mut columns: Vec<Column> = Vec::new();
    for name in header {
        let known = COLUMNS
            .iter()
            .find(|(known, _)| name.eq_ignore_ascii_case(known));
        let Some((_, column)) = known else {
            let message = format!("there is no column `{name}` in a gauge log");
            return Err(Notice::error(codes::UNKNOWN_KEY, at, message).help(EXAMPLE));
        };
        let gauge = |column: &Column| matches!(column, Column::Gauge(_));
        if columns
            .iter()
            .any(|other| other == column || (gauge(other) && gauge(column)))
        {
            let message = format!("`{name}` says the same as an earlier column");
            return Err(Notice::error(codes::DUPLICATE_NAME, at, message)
                .help("keep one column of each kind, and one unit of pressure"));
        }
        columns.push(*column);
    }
    let has = |wanted: fn(&Column) -> bool| columns.iter().any(wanted);
    let missing = if !has(|column| *column == Column::Minute) {
        "`minute`"
    } else if !has(|column| matches!(column, Column::Gauge(_))) {
        "the pressure: `psi`, `kpa` or `bar`"
    } else {
        return Ok(columns);
    };
    let message = format!("the log has no column for {missing}");
    Err(Notice::error(codes::MISSING_KEY, at, message).help(EXAMPLE))
}

fn reading(record: &StringRecord, columns: &[Column]) -> Result<Reading, (&'static str, String)> {
    if record.len() != columns.len() {
        let message = format!(
            "this line has {} values where the first line names {} columns",
            record.len(),
            columns.len()
        );
        return Err((codes::WRONG_KIND, message));
    }
    let (mut minute, mut gauge) = (None, None);
    let mut read = Reading::default();
    for (cell, column) in record.iter().zip(columns) {
        let value = number(cell)?;
        match column {
            Column::Minute => minute = value,
            Column::Gauge(unit) => gauge = value.map(|value| unit.to_base(value)),
            Column::Coolant => read.coolant_c = value,
            Column::Air => read.air_c = value,
        }
    }
    match (minute, gauge) {
        (Some(minute), Some(gauge_kpa)) => Ok(Reading {
            minute,
            gauge_kpa,
            ..read
        }),
        (None, _) => Err((codes::MISSING_KEY, "this line has no minute".to_owned())),
        (_, None) => Err((codes::MISSING_KEY, "this line has no pressure".to_owned())),
    }
}

fn number(cell: &str) -> Result<Option<f64>, (&'static str, String)> {
    if cell.is_empty() {
        return Ok(None);
    }
    match cell.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        Ok(_) => Err((codes::NOT_A_NUMBER, format!("`{cell}` is no number here"))),
        Err(_) if cell.replace(',', ".").parse::<f64>().is_ok() => Err((
            codes::WRONG_KIND,
            format!("`{cell}`: write a decimal point, not a comma"),
        )),
        Err(_) => Err((
            codes::WRONG_KIND,
            format!("a plain number belongs here, not `{cell}`"),
        )),
    }
}
