package finding

import (
	"cmp"
	"slices"
)

// Code is one row of the table of codes: a stable name of our own (the thing, then the condition), its
// level, the rows of the list of published faults it answers, and a paragraph for people.
type Code struct {
	Name  string
	Level Level
	Why   string // why it matters and how to mend it, two or three sentences
	Rows  []int  // rows of the fault list it answers
}

var table = map[string]Code{}

// register adds rows to the table; called from the code files of this package only, so that the table is
// complete before anything runs.
func register(codes ...Code) bool {
	for _, c := range codes {
		if _, twice := table[c.Name]; twice {
			panic("finding: code registered twice: " + c.Name)
		}
		table[c.Name] = c
	}
	return true
}

// Lookup returns the row of a code.
func Lookup(name string) (Code, bool) {
	c, ok := table[name]
	return c, ok
}

// Codes returns the whole table, sorted by name.
func Codes() []Code {
	out := make([]Code, 0, len(table))
	for _, c := range table {
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b Code) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

// Names returns all code names, sorted.
func Names() []string {
	var out []string
	for _, c := range Codes() {
		out = append(out, c.Name)
	}
	return out
}
