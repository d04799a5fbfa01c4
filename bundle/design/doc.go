// Package design is the typed model of one design: what its manifest says, every value with its place.
// It reads no files and judges nothing but its own counts (Tally); manifest fills it, check judges it.
//
// Conventions: lengths in millimetres; a value that was not written has a Place with line 0 (Set reports
// false); lists keep the order of the file.
package design
