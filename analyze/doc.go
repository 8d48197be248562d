// Package analyze fits how the parts of a car heat up with its gearing, from the runs of a
// log, and foresees further runs.
//
// [FitCar] takes the runs of one car and returns a [Car] with a [Fit] for each part that was
// read. [Car.Forecast] foresees a run, [Car.Warnings] says what makes the fits doubtful, and
// [LookBack] sets what earlier forecasts said beside what came. The model stands at [Fit],
// what it holds before any run at [PriorOf]. The package reads no files, rounds nothing and
// has no words for people.
//
// # Recomputing an answer
//
//   - A fit uses the runs that aren't skipped, have the last run's motor, and read the part
//     above what was left of the start. [Fit].LeftOut has the others with the reason.
//   - The log's middles are means over all runs with the last run's motor that aren't
//     skipped, also over those in which the part was not read: of ln(rollout), ln(tire
//     diameter), the air, and ln(cells) of the runs that say their cells.
//   - The next run is foreseen on a day of its own, one day of driving after the log's last.
//     A log of one day has no drift.
//   - [Fit.Scatter] times 100 is the run_to_run_percent of JSON.
//   - [Fit.Exponent] is the local one at the gearing that is asked for. Answers state it at
//     the last run's gearing, and with it the interval.
//   - The residuals that correlate are those of ln(rise) under the likeliest cell of the grid.
//     All pairs of parts are pooled: see [Forecast.Under].
package analyze
