use std::collections::BTreeSet;
use std::fs;

use super::*;

fn heading() -> Heading {
    Heading {
        board: "Plank & <Sons>".to_owned(),
        ride: "to-work.csv".to_owned(),
        result: "90 % to 60 % charge, 9.0 km".to_owned(),
    }
}

fn sample(step: u32) -> Sample {
    let time_s = f64::from(step) * 0.5;
    let soc = 0.9 - time_s * 1e-4;
    Sample {
        time_s,
        soc,
        soc_low: soc - 0.03,
        soc_high: soc + 0.02,
        true_soc: Some(soc - 0.01),
        pack_voltage_V: Some(40.0 + (time_s / 40.0).sin()),
        pack_current_A: Some(12.0 * (time_s / 25.0).sin()),
        speed_m_s: Some(4.0 + 3.0 * (time_s / 60.0).cos()),
        range_km: soc * 20.0,
        range_low_km: soc * 16.0,
        allowed_m_s2: 0.4 * (time_s / 25.0).sin(),
        asked_m_s2: Some(0.5 * (time_s / 25.0).sin()),
        link_ok: !(500..560).contains(&step),
    }
}

/// Only charge is known of this ride.
fn bare(step: u32) -> Sample {
    Sample {
        true_soc: None,
        pack_voltage_V: None,
        pack_current_A: None,
        speed_m_s: None,
        range_km: f64::NAN,
        range_low_km: f64::NAN,
        asked_m_s2: None,
        link_ok: true,
        ..sample(step)
    }
}

fn picture(rows: impl Iterator<Item = Sample>) -> Picture {
    let mut builder = PictureBuilder::new();
    rows.for_each(|row| builder.push(&row));
    builder.finish(&heading()).unwrap()
}

fn words(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).unwrap();
    document
        .descendants()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|node| Some(node.text()?.trim().to_owned()))
        .collect()
}

#[test]
fn the_svg_is_well_formed_and_holds_heading_axes_and_legend() {
    let picture = picture((0..2400).map(sample));
    let words = words(picture.svg());
    for expected in [
        "Plank & <Sons>",
        "to-work.csv",
        "90 % to 60 % charge, 9.0 km",
        "Charge (%)",
        "believed",
        "true",
        "Pack voltage (V)",
        "Pack current (A)",
        "Speed (km/h)",
        "asked",
        "allowed",
        "Range left (km)",
        "likely",
        "met nine times in ten",
        "Time since start (min)",
        "shaded: telemetry lost",
    ] {
        assert!(words.iter().any(|word| word == expected), "{expected} is missing");
    }
}

#[test]
fn what_was_never_measured_has_no_panel_and_no_legend() {
    let words = words(picture((0..2400).map(bare)).svg());
    assert!(words.iter().any(|word| word == "Charge (%)"));
    for absent in ["voltage", "current", "Speed", "Thumb", "Range", "true", "lost"] {
        assert!(!words.iter().any(|word| word.contains(absent)), "{absent} is there");
    }
}

#[test]
fn a_ride_without_rows_is_an_error_that_names_it() {
    let error = PictureBuilder::new().finish(&heading()).unwrap_err();
    assert_eq!(error.to_string(), "the ride `to-work.csv` holds nothing to draw (0 rows)");
}

#[test]
fn a_ride_of_nothing_but_nan_is_an_error() {
    let mut builder = PictureBuilder::new();
    let nan = f64::NAN;
    for step in 0..100 {
        builder.push(&Sample {
            soc: nan,
            soc_low: nan,
            soc_high: nan,
            allowed_m_s2: nan,
            speed_m_s: Some(nan),
            ..bare(step)
        });
    }
    let error = builder.finish(&heading()).unwrap_err();
    assert!(matches!(error, PictureError::Empty { rows: 100, .. }));
}

#[test]
fn nan_and_infinity_leave_a_gap_and_are_never_drawn() {
    let holed = |step: u32| {
        let mut row = sample(step);
        if (1000..1200).contains(&step) {
            row.soc = f64::NAN;
            row.soc_low = f64::NAN;
            row.pack_current_A = Some(f64::INFINITY);
            row.range_km = f64::INFINITY;
            row.speed_m_s = Some(f64::NAN);
        }
        row
    };
    let whole = picture((0..2400).map(sample));
    let holed = picture((0..2400).map(holed));
    let lines = |svg: &str| svg.matches("<polygon").count();
    assert!(lines(holed.svg()) > lines(whole.svg()));
    for svg in [whole.svg(), holed.svg()] {
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
        // Numbers saturate at these where something that is no place on the sheet was drawn.
        assert!(!svg.contains("2147483647") && !svg.contains("-2147483648"));
    }
}

#[test]
fn all_that_is_drawn_lies_on_the_sheet() {
    let picture = picture((0..2400).map(sample));
    let document = roxmltree::Document::parse(picture.svg()).unwrap();
    for points in document.descendants().filter_map(|node| node.attribute("points")) {
        for pair in points.split_whitespace() {
            let (x, y) = pair.split_once(',').unwrap();
            let (x, y): (i32, i32) = (x.parse().unwrap(), y.parse().unwrap());
            assert!((720..=11_720).contains(&x) && (920..=10_420).contains(&y), "{pair}");
        }
    }
}

#[test]
fn the_png_has_its_size_and_many_colours() {
    let png = picture((0..2400).map(sample)).png().unwrap();
    let mut reader = png::Decoder::new(io::Cursor::new(png)).read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    let frame = reader.next_frame(&mut pixels).unwrap();
    assert_eq!((frame.width, frame.height), (page::WIDTH, page::HEIGHT));
    let colours: BTreeSet<&[u8]> = pixels.chunks_exact(4).collect();
    assert!(colours.len() > 100, "{} colours", colours.len());
    assert!(pixels.chunks_exact(4).all(|pixel| pixel[3] == 255), "no pixel is see-through");
}

#[test]
fn words_are_painted_although_no_font_is_looked_for_on_the_machine() {
    let svg = picture((0..2400).map(bare)).svg().to_owned();
    let wordless = svg.replace("Charge (%)", " ");
    assert_ne!(raster::png(&svg).unwrap(), raster::png(&wordless).unwrap());
}

#[test]
fn the_same_rows_give_the_same_bytes() {
    let (one, other) = (picture((0..900).map(sample)), picture((0..900).map(sample)));
    assert_eq!(one.svg(), other.svg());
    assert_eq!(one.png().unwrap(), other.png().unwrap());
}

#[test]
fn an_interval_that_leaves_the_scale_of_charge_ends_at_its_end() {
    let full = |step| Sample { soc: 0.99, soc_low: 0.93, soc_high: 1.04, ..bare(step) };
    let words = words(picture((0..100).map(full)).svg());
    assert!(words.iter().any(|word| word == "100"));
    assert!(!words.iter().any(|word| word == "105" || word == "102"));
}

#[test]
fn a_ride_of_one_row_is_drawn_as_dots() {
    let picture = picture(std::iter::once(sample(0)));
    assert!(picture.svg().contains("<circle"));
    assert!(picture.png().is_ok());
}

#[test]
fn a_long_ride_needs_no_larger_file_than_its_bins() {
    let long = picture((0..400_000).map(|step| Sample { soc: 0.5, ..sample(step) }));
    assert!(long.svg().len() < 1_500_000, "{} bytes", long.svg().len());
    assert!(words(long.svg()).iter().any(|word| word == "Time since start (h)"));
}

#[test]
fn both_files_are_written_and_a_failure_names_the_path() {
    let folder = tempfile::tempdir().unwrap();
    let picture = picture((0..100).map(sample));
    let (svg, png) = (folder.path().join("ride.svg"), folder.path().join("ride.png"));
    picture.write(Target::create(svg.clone()).unwrap()).unwrap();
    picture.write(Target::create(png.clone()).unwrap()).unwrap();
    assert_eq!(fs::read_to_string(&svg).unwrap(), picture.svg());
    assert_eq!(fs::read(&png).unwrap(), picture.png().unwrap());
    let refused = |name: &str| Target::create(folder.path().join(name)).unwrap_err().to_string();
    assert!(refused("nowhere/ride.svg").contains("nowhere"));
    assert!(refused("ride.bmp").contains("neither .svg nor .png"));
    assert_eq!(
        fs::read_dir(folder.path()).unwrap().count(),
        2,
        "nothing is left beside the pictures"
    );
}
