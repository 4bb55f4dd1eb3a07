use elbowroom::fit::{FitOptions, Readings, fit_limits};
#[test]
fn scratch() {
    let text = std::fs::read_to_string("tests/data/measured/elevon_deflection.csv").unwrap();
    for (a, s) in [("1", "left"), ("1", "right"), ("2", "left"), ("2", "right")] {
        let (mut x, mut y) = (vec![], vec![]);
        for l in text.lines().skip(1) {
            let f: Vec<&str> = l.split(',').collect();
            if f[0] == a && f[1] == s { x.push(f[3].parse::<f64>().unwrap()); y.push(f[4].parse::<f64>().unwrap()); }
        }
        let fit = fit_limits(&Readings::new(&x, &y), &FitOptions::default()).unwrap();
        eprintln!("{a} {s} lower {:?}\n upper {:?}\n {:?} {:?} rejected {:?} approach_inferred {} lost {:?} res {:?} sd {}", fit.lower, fit.upper, fit.travel, fit.warnings, fit.rejected, fit.approach_inferred, fit.lost_motion, fit.resolution, fit.residual_sd);
    }
}
