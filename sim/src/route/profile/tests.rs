use super::*;

const LAYING: Laying =
    Laying { spacing_m: 5.0, nodes: 401, smoothing_m: 33.0, least_climb_m: None, steepest: 0.4 };

fn sights(apart_m: f64, height: impl Fn(f64) -> f64) -> Vec<Sight> {
    let mut sights = Vec::new();
    let mut at_m = 0.0;
    while at_m <= 2000.0 {
        sights.push(Sight { at_m, height_m: height(at_m) });
        at_m += apart_m;
    }
    sights
}

#[test]
fn a_straight_slope_stays_as_it_is() {
    // Points not on the nodes, with a gap: a straight line has no bend, so nothing pulls at it.
    let mut sights = sights(7.3, |at_m| 50.0 + 0.06 * at_m);
    sights.retain(|sight| !(600.0..900.0).contains(&sight.at_m));
    let profile = lay(&sights, &LAYING);
    for (height, node) in profile.heights_m.iter().zip(0_u32..) {
        let wanted = 50.0 + 0.06 * 5.0 * f64::from(node);
        // Rounding, multiplied by the condition of the equations: 1e-16 * (2000 m / 33 m)^4 * 50 m.
        assert!((height - wanted).abs() < 1e-6, "{node}: {height} {wanted}");
    }
}

/// Source: Silverman 1984 as in the module: a wave of angular frequency w keeps 1 / (1 + (w h)^4).
#[test]
fn source_a_wave_keeps_the_share_that_the_theory_of_the_smoother_says() {
    for wave_m in [150.0, 200.0, 400.0, 1000.0] {
        let w = 2.0 * std::f64::consts::PI / wave_m;
        let sights = sights(5.0, |at_m| 10.0 * libm::sin(w * at_m));
        let smoothed = smooth(&sights, &LAYING);
        let wh = w * LAYING.smoothing_m;
        let share = 1.0 / (1.0 + wh * wh * wh * wh);
        // Far from the ends, by the part of the line that follows the wave.
        let (mut with, mut of) = (0.0, 0.0);
        for (height, node) in smoothed.iter().zip(0_u32..).skip(80).take(240) {
            let wave = libm::sin(w * 5.0 * f64::from(node));
            with += height * wave;
            of += 10.0 * wave * wave;
        }
        // Differences of 5 m are not derivatives: (w * 5 m)^2 / 6 of the fourth power's share.
        assert!((with / of - share).abs() < 0.01, "{wave_m}: {} {share}", with / of);
    }
}

#[test]
fn nothing_is_steeper_than_allowed() {
    let profile = lay(&sights(5.0, |at_m| if at_m < 1000.0 { 0.0 } else { 100.0 }), &LAYING);
    assert!(profile.was_too_steep);
    for pair in profile.heights_m.windows(2) {
        assert!((pair[1] - pair[0]).abs() <= 2.0 + 1e-12);
    }
    // The cliff is spread, not lost. The line that is too steep overshoots by some 4 %.
    let ends = profile.heights_m[400] - profile.heights_m[0];
    assert!((ends - 100.0).abs() < 5.0, "{ends}");
}

#[test]
fn one_height_makes_a_flat_line() {
    let one = [Sight { at_m: 700.0, height_m: 12.5 }];
    assert_eq!(lay(&one, &LAYING).heights_m, vec![12.5; 401]);
}

#[test]
fn noise_is_estimated_from_the_track_itself() {
    // A sum of twelve waves of incommensurable lengths below 60 m, together 1 m of noise.
    let noise = |at_m: f64| {
        (0..12).map(|n| libm::sin(at_m / (1.1 + 0.61 * f64::from(n)) + f64::from(n))).sum::<f64>()
            / 6.0_f64.sqrt()
    };
    let calm = lay(&sights(10.0, |_| 5.0), &LAYING).least_climb_m;
    let noisy = lay(&sights(10.0, |at_m| 3.0 * noise(at_m)), &LAYING).least_climb_m;
    assert!((calm - LEAST_CLIMB_M).abs() < 1e-9, "{calm}");
    assert!((3.0..10.0).contains(&noisy), "{noisy}");
}

#[test]
fn sparse_heights_on_the_finest_grid_are_still_a_straight_line() {
    // The equations at their worst: 20 km without a height, nodes of 1 m, and the least and the
    // most smoothing. Rounding of 1e-16 of 400 m, times 16 * 200^4: a millimetre.
    for smoothing_m in [200.0, 1.0] {
        let laying = Laying { spacing_m: 1.0, nodes: 20_001, smoothing_m, ..LAYING };
        let sights: Vec<_> = [0.0, 40.0, 19_960.0, 20_000.0]
            .iter()
            .map(|&at_m| Sight { at_m, height_m: at_m * 0.02 })
            .collect();
        let profile = lay(&sights, &laying);
        for (height, node) in profile.heights_m.iter().zip(0_u32..) {
            let wanted = 0.02 * f64::from(node);
            assert!((height - wanted).abs() < 1e-3, "{smoothing_m} {node}: {height} {wanted}");
        }
    }
}
