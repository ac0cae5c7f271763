//! A pressure hold as text, as a drawing of letters and as an SVG page.
//!
//! In: a [`HoldResult`] and the units to print. Out: strings.

use std::fmt::Write as _;

use crate::measure::hold::{HoldResult, LooksLike, Point, Verdict, two_digits};
use crate::measure::units::Preferences;
use crate::show::page::Page;

/// Verdict, leak and what to do.
pub fn hold_text(page: &mut Page, result: &HoldResult, likes: &Preferences) {
    let (low, high) = result.interval_ml_per_min;
    page.heading(match result.verdict {
        Verdict::Holds => "It holds",
        Verdict::Falls => "It falls: a leak",
        Verdict::CannotTell => "Can't tell yet",
    });
    let give_or_take = high / 20.0;
    let rate = |ml_per_min: f64| likes.rate(ml_per_min, give_or_take);
    page.para(&if low > 0.0 {
        format!(
            "Leak at the test pressure: {}, with 95 % between {} and {}.",
            rate(result.leak_ml_per_min),
            rate(low),
            rate(high)
        )
    } else {
        format!(
            "With 95 % the leak is smaller than {} at the test pressure, or there is none.",
            rate(high)
        )
    });
    let looks = match result.looks_like {
        LooksLike::Steady => Some("The gauge is steady, within a step of its scale."),
        LooksLike::Cooling => Some("The fall looks like cooling."),
        LooksLike::Leak => Some("Most of the fall is the leak."),
        // The notes say so.
        LooksLike::Settling | LooksLike::Creep | LooksLike::Warming => None,
    };
    if let Some(looks) = looks {
        page.para(looks);
    }
    // The first note on a fall is the leak, told above.
    let told = usize::from(result.verdict == Verdict::Falls);
    for note in result.notes.iter().skip(told) {
        page.item("·", note);
    }
}

/// Rows of the drawing of letters.
const ROWS: usize = 14;
/// Columns left of it, for figures.
const LABELS: usize = 11;
const READ: char = 'o';
const FITTED: char = '*';
const SOUND: char = '-';

/// What is drawn: minutes and kPa from and to.
struct Frame {
    minutes: (f64, f64),
    kpa: (f64, f64),
}

impl Frame {
    fn of(points: &[Point]) -> Option<Self> {
        let (first, last) = (points.first()?, points.last()?);
        let all = points
            .iter()
            .flat_map(|point| [point.read_kpa, point.fitted_kpa, point.sound_kpa]);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), kpa| {
            (low.min(kpa), high.max(kpa))
        });
        let room = (0.08 * (high - low)).max(0.5);
        Some(Self {
            minutes: (first.minute, last.minute),
            kpa: ((low - room).max(0.0), high + room),
        })
    }

    /// Share of the way, 0 to 1, across and up.
    fn across(&self, minute: f64) -> f64 {
        (minute - self.minutes.0) / (self.minutes.1 - self.minutes.0)
    }

    fn up(&self, kpa: f64) -> f64 {
        (kpa - self.kpa.0) / (self.kpa.1 - self.kpa.0)
    }
}

/// The value of a curve between its points.
fn between(points: &[Point], minute: f64, of: fn(&Point) -> f64) -> f64 {
    let after = points.partition_point(|point| point.minute < minute);
    if after == 0 {
        return points.first().map_or(0.0, of);
    }
    let Some(right) = points.get(after) else {
        return points.last().map_or(0.0, of);
    };
    let left = &points[after - 1];
    let share = (minute - left.minute) / (right.minute - left.minute);
    of(left) + share * (of(right) - of(left))
}

/// The drawing, at most `columns` wide: readings, fit, and what a sealed system would have shown.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
pub fn hold_plot(result: &HoldResult, likes: &Preferences, columns: usize) -> String {
    let points = &result.points;
    let Some(frame) = Frame::of(points) else {
        return String::new();
    };
    let wide = columns.clamp(40, 200) - LABELS - 2;
    let mut cells = vec![vec![' '; wide]; ROWS];
    let mut put = |column: usize, kpa: f64, letter: char| {
        let from_top = (1.0 - frame.up(kpa)).clamp(0.0, 1.0) * (ROWS - 1) as f64;
        cells[from_top.round() as usize][column.min(wide - 1)] = letter;
    };
    for column in 0..wide {
        let share = column as f64 / (wide - 1) as f64;
        let minute = frame.minutes.0 + share * (frame.minutes.1 - frame.minutes.0);
        put(
            column,
            between(points, minute, |point| point.sound_kpa),
            SOUND,
        );
        put(
            column,
            between(points, minute, |point| point.fitted_kpa),
            FITTED,
        );
    }
    for point in points {
        let column = (frame.across(point.minute) * (wide - 1) as f64).round();
        put(column as usize, point.read_kpa, READ);
    }
    let step_kpa = (frame.kpa.1 - frame.kpa.0) / 10.0;
    let mut text = String::new();
    for (index, line) in cells.iter().enumerate() {
        let kpa = frame.kpa.1 - index as f64 / (ROWS - 1) as f64 * (frame.kpa.1 - frame.kpa.0);
        let label = if index % 4 == 0 {
            likes.pressure(kpa, step_kpa.min(1.0))
        } else {
            String::new()
        };
        let line: String = line.iter().collect();
        let _ = writeln!(text, "{label:>LABELS$} |{}", line.trim_end());
    }
    let _ = writeln!(text, "{:>LABELS$} +{}", "", "-".repeat(wide));
    let (first, last) = (
        format!("{:.0}", frame.minutes.0),
        format!("{:.0} min", frame.minutes.1),
    );
    let _ = writeln!(
        text,
        "{:>LABELS$}  {first}{last:>rest$}",
        "",
        rest = wide - first.len()
    );
    let _ = writeln!(
        text,
        "{:>LABELS$}  {READ} read   {FITTED} fitted   {SOUND} a sealed system",
        ""
    );
    text
}

/// Size of the page, pixels, and room for figures.
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 400.0;
const LEFT: f64 = 80.0;
const BELOW: f64 = 70.0;
const ABOVE: f64 = 50.0;
const RIGHT: f64 = 20.0;

/// The drawing as an SVG page.
pub fn hold_svg(result: &HoldResult, likes: &Preferences) -> String {
    let points = &result.points;
    let Some(frame) = Frame::of(points) else {
        return String::new();
    };
    let x = |minute: f64| LEFT + frame.across(minute) * (WIDTH - LEFT - RIGHT);
    let y = |kpa: f64| HEIGHT - BELOW - frame.up(kpa) * (HEIGHT - BELOW - ABOVE);
    let curve = |of: fn(&Point) -> f64| -> String {
        let corners = points
            .iter()
            .map(|point| format!("{:.1},{:.1}", x(point.minute), y(of(point))));
        corners.collect::<Vec<_>>().join(" ")
    };
    let verdict = match result.verdict {
        Verdict::Holds => "holds",
        Verdict::Falls => "falls",
        Verdict::CannotTell => "can't tell yet",
    };
    let (low, high) = result.interval_ml_per_min;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" font-family=\"sans-serif\" font-size=\"13\">\n\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"white\"/>\n\
         <text x=\"{LEFT}\" y=\"20\" font-size=\"15\">Pressure hold: {verdict}; leak {} mL/min, 95 % {} to {}</text>\n\
         <rect x=\"{LEFT}\" y=\"{ABOVE}\" width=\"{}\" height=\"{}\" fill=\"none\" stroke=\"black\"/>\n",
        two_digits(result.leak_ml_per_min),
        two_digits(low),
        two_digits(high),
        WIDTH - LEFT - RIGHT,
        HEIGHT - BELOW - ABOVE
    );
    for tick in 0..=5 {
        let share = f64::from(tick) / 5.0;
        let minute = frame.minutes.0 + share * (frame.minutes.1 - frame.minutes.0);
        let kpa = frame.kpa.0 + share * (frame.kpa.1 - frame.kpa.0);
        let fine = (frame.kpa.1 - frame.kpa.0) / 50.0;
        let _ = writeln!(
            svg,
            "<text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"middle\">{minute:.0}</text>\n\
             <text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"end\">{}</text>",
            x(minute),
            HEIGHT - BELOW + 18.0,
            LEFT - 6.0,
            y(kpa) + 4.0,
            likes.pressure(kpa, fine)
        );
    }
    let _ = writeln!(
        svg,
        "<polyline fill=\"none\" stroke=\"seagreen\" stroke-width=\"2\" stroke-dasharray=\"6 4\" points=\"{}\"/>\n\
         <polyline fill=\"none\" stroke=\"firebrick\" stroke-width=\"2\" points=\"{}\"/>",
        curve(|point| point.sound_kpa),
        curve(|point| point.fitted_kpa)
    );
    for point in points {
        let _ = writeln!(
            svg,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"3\" fill=\"steelblue\"/>",
            x(point.minute),
            y(point.read_kpa)
        );
    }
    let foot = HEIGHT - 12.0;
    let _ = writeln!(
        svg,
        "<text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"middle\">minutes since pumping stopped</text>\n\
         <text x=\"14\" y=\"{:.0}\" text-anchor=\"middle\" transform=\"rotate(-90 14 {:.0})\">gauge pressure</text>\n\
         <text x=\"{LEFT}\" y=\"{foot}\" fill=\"steelblue\">● read</text>\n\
         <text x=\"{:.0}\" y=\"{foot}\" fill=\"firebrick\">— fitted</text>\n\
         <text x=\"{:.0}\" y=\"{foot}\" fill=\"seagreen\">- - a sealed system</text>\n</svg>",
        f64::midpoint(LEFT, WIDTH - RIGHT),
        HEIGHT - BELOW + 38.0,
        f64::midpoint(ABOVE, HEIGHT - BELOW),
        f64::midpoint(ABOVE, HEIGHT - BELOW),
        LEFT + 80.0,
        LEFT + 170.0
    );
    svg
}
