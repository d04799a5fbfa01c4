// Package calendar turns a season's settings into instants: which calendar day and wall-clock time
// each drop of each week was promised for, and what instant in UTC that is.
//
// It is for dates only. It does not know what is ready, what went out or what time it is now; that is
// package schedule's. Every function is pure: the same settings and the same time zone data give the
// same dates.
//
// Conventions:
//   - weeks are numbered from 1;
//   - a week's early day is found by stepping the calendar date by seven days in the series' zone, never
//     by adding hours, so 17:00 stays 17:00 over a clock change;
//   - a local time that occurs twice means the first, one that does not exist is read with the offset
//     before the gap (RFC 5545 section 3.3.5); both are reported in [Drop.Notes];
//   - delays are calendar days counted from the promised early day, at the same wall-clock time;
//   - the intent (wall clock and zone) and the fact (UTC) are both kept, because the rules of a zone may
//     change between the promise and the day.
package calendar
