// Package toolpath reads a print file in plain RepRap-style G-code (the open community dialect of
// RS-274 / ISO 6983) and simulates it move by move: how much filament it feeds, how long it takes
// with the kinematics of package motion, how large the printed thing is, how many layers it has.
//
// It is not for running a machine: heaters, fans and displays are skipped, no program's comments are
// read, and what could move the head in a way it does not know (splines, other planes, macros,
// second tools) is an error with its line, never a guess.
//
// The dialect, where firmwares differ:
//   - Known: G0 G1 G2 G3 G4 G20 G21 G28 G90 G91 G92 and M82 M83, further M200 (volumetric feed),
//     M220 (speed in percent) and M221 (feed in percent), because they change the totals.
//   - G91 makes E relative too, until G90 or M82; M83 keeps E relative through a later G90.
//   - A line of axis words alone repeats the last G0 to G3.
//   - I and J are measured from the start of the arc, in both modes.
//   - G4 P is milliseconds, S seconds. G20 turns everything that is a length into inches, E too.
//   - Before the first G28 or move the head is at zero; G28 travels to the zero of its axes.
//
// Conventions: millimetres, seconds, machine axes (what G92 renames is undone for sizes).
package toolpath

import (
	"errors"
	"fmt"
	"io"
	"math"
	"sort"

	"dropwright/bundle/motion"
)

// Machine is what the simulation needs to know of the printer.
type Machine struct {
	motion.Limits
	Travel float64 // mm/s of homing, and of moves before the first F; 0: DefaultTravel
}

// DefaultTravel is the speed in mm/s where neither file nor printer names one. Common practice for
// desktop machines, no source.
const DefaultTravel = 120

// Result is what one file amounts to.
type Result struct {
	Lines int // lines read
	Moves int // moves of the head with a length

	// Filament is the length in mm that was pushed forward for good: the high-water mark of the
	// feed, so that a retraction and its return cancel. Retracted is how far below the mark the
	// file ends (mm).
	Filament  float64
	Retracted float64

	Seconds float64 // time of all moves and waits; heating up is not in it

	// Layers counts the different heights at which a level move fed filament; Spiral says that
	// some moves fed filament while rising, so that the layers do not tell the whole.
	Layers int
	Spiral bool

	// Min and Max bound the centre lines of all moves that fed filament (mm, machine axes). BodyMin
	// and BodyMax leave out the first layer, where skirts, brims and purge lines lie; they equal Min
	// and Max if there is one layer only.
	Min, Max         [3]float64
	BodyMin, BodyMax [3]float64
	// BodyDiagonal is the width of the same moves across the diagonals: along x+y and along x-y (mm).
	BodyDiagonal [2]float64

	// CutOff is the number of the last line if it moves the head and has no line end, else 0: the
	// file may have been cut off inside it, and its figures may be too low.
	CutOff int

	Skipped []Skipped // commands that were passed over, sorted by name
}

// Skipped is a command that has no part in the totals and how often it occurred.
type Skipped struct {
	Code  string // "M106"
	Count int
}

// Volume is the plastic in mm3 for filament of the given diameter in mm.
func (r Result) Volume(diameter float64) float64 {
	return r.Filament * math.Pi / 4 * diameter * diameter
}

// Grams is the mass for filament of the given diameter in mm and density in g/cm3.
func (r Result) Grams(diameter, density float64) float64 {
	return r.Volume(diameter) / 1000 * density
}

// LineError is a line that cannot be simulated. The file is at fault, not the disk.
type LineError struct {
	Line int    // counted from 1
	Text string // what is wrong and what to do, lower case
}

// Error returns the line and the text.
func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Text) }

// ErrNoFilament is returned for a file none of whose moves feeds filament.
var ErrNoFilament = errors.New("no move feeds filament: it does not look like a print file")

// Read simulates the G-code that r yields. It streams: memory does not grow with the file. A
// *LineError or ErrNoFilament means that the file is not one it can judge; any other error comes
// from r. Of a file with an error nothing is reported, for a part of a total would be a wrong total.
func Read(r io.Reader, m Machine) (Result, error) {
	s := newSimulator(m)
	lines := newLineReader(r)
	for lines.next() {
		if err := s.line(lines.text); err != nil {
			return Result{}, &LineError{Line: lines.number, Text: err.Error()}
		}
	}
	if lines.err != nil {
		return Result{}, lines.err
	}
	res := s.finish()
	res.Lines = lines.number
	if lines.open && s.moved {
		res.CutOff = lines.number
	}
	if res.Filament <= 0 {
		return Result{}, ErrNoFilament
	}
	return res, nil
}

// skippedList sorts the counts of skipped commands by letter, then number.
func skippedList(counts map[code]int) []Skipped {
	keys := make([]code, 0, len(counts))
	for k := range counts {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		if keys[i].letter != keys[j].letter {
			return keys[i].letter < keys[j].letter
		}
		return keys[i].number < keys[j].number
	})
	var list []Skipped
	for _, k := range keys {
		list = append(list, Skipped{Code: fmt.Sprintf("%c%d", k.letter, k.number), Count: counts[k]})
	}
	return list
}
