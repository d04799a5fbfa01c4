// Package board holds profiles of circuit boards: outline, mounting holes, heights, ports, headers
// with their pins, supply rails. It loads the built-in profiles and a maker's own, strictly and with
// positions, and answers questions of geometry and pins about them.
//
// It does not place a board in a part nor judge anything (package fit and package check), and it
// reads no files itself but the built-in ones: the caller hands in the text.
//
// # What is not known
//
// A profile leaves out what its sources do not say. Every figure here knows whether it was Given; a
// question that needs a missing figure returns its name, so that the answer to the maker is "not
// checked: … unknown" and never a pass.
//
// # Conventions
//
// Millimetres, volts, ampere, watts. The origin is the lower left corner of the outline seen from the
// component side, x to the right along the edge that `datum` names, y away from it, z up from the top
// face of the board; the underside is at z = -thickness. Profiles are not changed after loading, so
// several goroutines may read one.
package board
