// Package sheet composes the assembly sheet of one variant of a design and prints it as HTML, PDF and text,
// the announcement of a drop, and the list of pictures still to take.
//
// Compose turns the design, what was measured of it and its bill of materials into one tree of plain values
// (Sheet: sections of blocks) in which every word already stands in the house's language. The printers know
// blocks only, so that all forms of a sheet say the same. Nothing here opens a file: pictures come through a
// function that the caller hands in.
//
// It is not a judge: what is missing stays away or is said to be unknown, and package check says why. It
// counts nothing itself: counts are those of package bom and of design.Tally.
//
// Conventions: lengths in millimetres, drawings with y downwards, figures in the habits of the language; the
// same input gives the same bytes. Texts of the maker are Markdown without raw HTML; they never become
// markup of their own.
package sheet
