// Package facts holds what was measured of one design, as plain values that print as JSON and
// compare in a test. Measuring them is package measure's work; judging them is package check's.
package facts
