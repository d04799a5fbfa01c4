// Package finding holds what a check has to say about a design: data, not printed text, so that the same
// finding can be a line in a terminal, an object in JSON, or a row in a report.
//
// A mistake of the designer is a Finding: all are collected, sorted and shown. A failure of the machine
// (disk, permission) is a Go error and stops the work; it never becomes a Finding.
package finding

import (
	"cmp"
	"fmt"
	"slices"
)

// Level says how grave a finding is.
type Level int

// The three levels. An Error stops a release; a Warning may be taken as it is with a reason; a Note informs.
const (
	Error Level = iota
	Warning
	Note
)

// String gives "error", "warning" or "note".
func (l Level) String() string { return [...]string{"error", "warning", "note"}[l] }

// MarshalText makes a level print as its word in JSON.
func (l Level) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads the word back.
func (l *Level) UnmarshalText(b []byte) error {
	for _, x := range []Level{Error, Warning, Note} {
		if x.String() == string(b) {
			*l = x
			return nil
		}
	}
	return fmt.Errorf("unknown level %q", b)
}

// Place is a position in a text file. Line and Column count from 1; Column counts bytes, as the Go tools
// do, so that it points at the same byte whatever the editor thinks a character is. Width is the number of
// bytes the caret line should mark (0 and 1 mean one caret). Line 0 means the file as a whole.
type Place struct {
	File   string
	Line   int
	Column int
	Width  int
}

// Known reports whether the place names a line.
func (p Place) Known() bool { return p.Line > 0 }

// String prints "file:line:column".
func (p Place) String() string {
	if p.Line == 0 {
		return p.File
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Finding is one thing found.
type Finding struct {
	Code    string // a name from the table of codes
	Level   Level
	Variant string // "" when it concerns the whole design
	At      Place
	Text    string // what is wrong, lower case, no full stop
	Hint    string // what to type or edit next
}

// New makes a finding with the level that the table gives to its code. A code that is not in the table is
// a programming mistake; it is reported as an error finding under its own name so that no check is lost.
func New(code string, at Place, text, hint string) Finding {
	f := Finding{Code: code, At: at, Text: text, Hint: hint}
	if c, ok := Lookup(code); ok {
		f.Level = c.Level
	}
	return f
}

// NotChecked is something that could not be judged: counted and printed, never passed.
type NotChecked struct {
	At      Place
	Variant string
	Text    string // what was not checked and why: "the thickness of servo: no thickness stated"
}

// UsedAsIs is a warning that the maker took as it is, with the reason given.
type UsedAsIs struct {
	Finding Finding
	Because string
}

// Sort orders findings by file, line, column, level, code, variant and text: the same list whatever order
// they were found in.
func Sort(fs []Finding) {
	slices.SortStableFunc(fs, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.At.File, b.At.File), cmp.Compare(a.At.Line, b.At.Line), cmp.Compare(a.At.Column, b.At.Column),
			cmp.Compare(a.Level, b.Level), cmp.Compare(a.Code, b.Code), cmp.Compare(a.Variant, b.Variant), cmp.Compare(a.Text, b.Text))
	})
}

// Worst orders findings by gravity first, for a short list of what to mend first.
func Worst(fs []Finding) []Finding {
	out := slices.Clone(fs)
	Sort(out)
	slices.SortStableFunc(out, func(a, b Finding) int { return cmp.Compare(a.Level, b.Level) })
	return out
}

// Count returns how many findings have the level.
func Count(fs []Finding, l Level) int {
	n := 0
	for _, f := range fs {
		if f.Level == l {
			n++
		}
	}
	return n
}
