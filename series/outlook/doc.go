// Package outlook looks over a whole season: how far each design has come and since when, what is missing
// next, how many weeks are in reserve and when the promise would break, the odds of keeping every date, what
// the printers have to do, what has to be ordered.
//
// It opens no file, reads no clock and draws its random numbers from a fixed seed: the same input gives the
// same Season, on any number of cores. What was measured, logged and released is handed in; carrying things
// out is somebody else's work.
//
// Conventions:
//   - a week's design is finished when its check is clean (checked) or its bundles are fixed (bundled);
//   - a free week counts as a design that is not begun: a series promises one a week. A week in which nothing
//     is meant to go out is a day under calendar.skip;
//   - work is counted in days of the calendar without those of calendar.leave, one design after another in the
//     order of their early days: one maker, two hands;
//   - a printer's hours a week are spread evenly over the days without leave;
//   - times are UTC, hours and grams are of all prints of a row together, chances run from 0 to 1.
package outlook
