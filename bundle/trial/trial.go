// Package trial keeps the log of test prints and learns from it: what a print weighed and how long it
// took, whether it was accepted, how wide a hole came out. From accepted prints follow a factor on the
// model's mass and time, from measured holes the allowance that hole checks use; both per printer and
// material.
//
// It opens no files and has no clock: readers, writers and times are handed in. Whether a design's
// parts have been accepted is asked here, what follows from it is decided elsewhere.
//
// Conventions: grams, seconds, millimetres. The log is a file of JSON lines, one record a line, oldest
// first; records are appended, and taken out whole.
package trial

import (
	"time"

	"dropwright/bundle/estimate"
)

// Outcomes of a print.
const (
	OK     = "ok"     // the part is accepted as it came out
	Failed = "failed" // the print failed, or the part is no good
)

// Record is one line of the log: a print, measured holes, or both.
type Record struct {
	At       time.Time `json:"at"`
	Design   string    `json:"design,omitempty"`
	Part     string    `json:"part"`
	Variant  string    `json:"variant,omitempty"`
	Mesh     string    `json:"mesh,omitempty"` // SHA-256 of the mesh that was printed
	Printer  string    `json:"printer,omitempty"`
	Filament string    `json:"filament,omitempty"`
	Material string    `json:"material,omitempty"`

	Outcome string  `json:"outcome,omitempty"` // OK or Failed; "" for holes alone
	Copies  int     `json:"copies,omitempty"`  // printed at a time; 0: one
	Grams   float64 `json:"grams,omitempty"`   // weighed, 0: not
	Seconds float64 `json:"seconds,omitempty"` // by the maker's clock, from start to finish; 0: not
	Note    string  `json:"note,omitempty"`
	Holes   []Hole  `json:"holes,omitempty"`
	// Spool is what is written on the spool that its filament was booked off, Booked how many grams were; "" and 0
	// when none were.
	Spool  string  `json:"spool,omitempty"`
	Booked float64 `json:"booked_grams,omitempty"`

	Settings map[string]any `json:"settings,omitempty"` // the print settings, as in measure's JSON
	Model    *Figure        `json:"model,omitempty"`    // what was expected of this very print
}

// Figure is what the model, without any calibration, said of a print. Seconds includes the printer's
// start, as the maker's clock does.
type Figure struct {
	Grams   float64 `json:"grams"`
	Seconds float64 `json:"seconds"`
}

// Hole is a hole as drawn and as it came out, diameters in mm.
type Hole struct {
	Drawn    float64 `json:"drawn_mm"`
	Measured float64 `json:"measured_mm"`
}

// FigureOf is the figure to log with a print of so many copies (0 is one) of a part whose uncalibrated
// estimate is e: start is the printer's start time in seconds.
func FigureOf(e estimate.Estimate, copies int, start float64) *Figure {
	n := float64(max(copies, 1))
	return &Figure{Grams: n * e.Grams, Seconds: n*e.Seconds + start}
}

// LastUsed returns printer and filament of the latest record that names them: the defaults for the
// next line. Both are "" in an empty log.
func LastUsed(log []Record) (printer, filament string) {
	for i := len(log) - 1; i >= 0 && (printer == "" || filament == ""); i-- {
		if printer == "" {
			printer = log[i].Printer
		}
		if filament == "" {
			filament = log[i].Filament
		}
	}
	return printer, filament
}

// Accepted returns the latest print of the mesh with the given SHA-256, and whether it was accepted.
// False with a zero Record: it was never printed.
func Accepted(log []Record, mesh string) (Record, bool) {
	for i := len(log) - 1; i >= 0; i-- {
		if r := log[i]; r.Mesh == mesh && mesh != "" && r.Outcome != "" {
			return r, r.Outcome == OK
		}
	}
	return Record{}, false
}
