package stock

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
)

// IdeasFile is the list of ideas of a series, beside its series.yaml.
const IdeasFile = "ideas.csv"

// IdeaHeads are its columns.
var IdeaHeads = []string{"name", "title", "week", "asked", "note"}

// Idea is a design that somebody would like to have.
type Idea struct {
	Name  string
	Title string
	Week  int // it is meant for; 0: none
	Asked int // how often it was asked for
	Note  string
}

// Ideas is the list.
type Ideas struct{ List []Idea }

// Bounds that keep out slips of the keyboard.
const (
	mostWeek  = 10_000
	mostAsked = 1_000_000
)

// ReadIdeas reads ideas as Write writes them, or as a spreadsheet saves them. Errors: *LineError.
func ReadIdeas(data []byte) (*Ideas, error) {
	if len(data) > MaxBytes {
		return nil, &LineError{1, fmt.Sprintf("the file holds %d bytes, the limit is %d", len(data), MaxBytes), "is this the list of ideas?"}
	}
	rows, at, err := table(data, IdeaHeads, []string{"name"})
	if err != nil {
		return nil, err
	}
	out := &Ideas{}
	for i, r := range rows {
		x := Idea{Name: r["name"], Title: r["title"], Note: r["note"]}
		for _, f := range []struct {
			name string
			to   *int
			most int
		}{{"week", &x.Week, mostWeek}, {"asked", &x.Asked, mostAsked}} {
			if r[f.name] == "" {
				continue
			}
			n, err := strconv.Atoi(r[f.name])
			if err != nil || n < 0 || n > f.most {
				return nil, &LineError{at[i], fmt.Sprintf("%s: expected a whole number from 0 to %d, found %q", f.name, f.most, r[f.name]), "write digits only, or leave it empty"}
			}
			*f.to = n
		}
		if p := x.check(); p != nil {
			return nil, &LineError{at[i], p.Text, p.Hint}
		}
		if _, ok := out.Get(x.Name); ok {
			return nil, &LineError{at[i], fmt.Sprintf("%s stands above already", x.Name), "add what was asked to that line"}
		}
		out.List = append(out.List, x)
	}
	return out, nil
}

func (x Idea) check() *Problem {
	if design.Kebab(x.Name) != x.Name || x.Name == "" {
		return &Problem{fmt.Sprintf("name: expected lower-case letters, digits and single hyphens, found %q", x.Name), "write for example " + cmp.Or(design.Kebab(x.Name), "frost-bell")}
	}
	for _, f := range []string{x.Name, x.Title, x.Note} {
		if p, ok := (Line{Kind: Fastener, Item: "x", Note: f}).check().(*Problem); ok {
			return &Problem{strings.Replace(p.Text, "note", "the text", 1), p.Hint}
		}
	}
	return nil
}

// Get finds an idea by its name.
func (l *Ideas) Get(name string) (*Idea, bool) {
	for i := range l.List {
		if l.List[i].Name == name {
			return &l.List[i], true
		}
	}
	return nil, false
}

// Names are all names.
func (l *Ideas) Names() []string {
	var out []string
	for _, x := range l.List {
		out = append(out, x.Name)
	}
	return out
}

// Add puts an idea on the list. One that is there already was asked for once more; a title or note that it
// lacks is taken over, a further note is added to the one it has.
func (l *Ideas) Add(x Idea) (Idea, error) {
	if p := x.check(); p != nil {
		return x, p
	}
	old, ok := l.Get(x.Name)
	if !ok {
		l.List = append(l.List, x)
		return x, nil
	}
	next := *old
	next.Asked += max(x.Asked, 1)
	next.Title = cmp.Or(next.Title, x.Title)
	if x.Note != "" && !strings.Contains(next.Note, x.Note) {
		next.Note = strings.TrimPrefix(next.Note+"; "+x.Note, "; ")
	}
	if x.Week != 0 {
		next.Week = x.Week
	}
	if p := next.check(); p != nil {
		return next, p
	}
	*old = next
	return next, nil
}

// Remove takes an idea off the list.
func (l *Ideas) Remove(name string) (Idea, error) {
	i := slices.IndexFunc(l.List, func(x Idea) bool { return x.Name == name })
	if i < 0 {
		hint := "dropwright idea lists them"
		if near := finding.Nearest(name, l.Names()); near != "" {
			hint = "did you mean " + near + "?"
		}
		return Idea{}, &Problem{fmt.Sprintf("no idea is called %q", name), hint}
	}
	x := l.List[i]
	l.List = slices.Delete(l.List, i, i+1)
	return x, nil
}

// Write writes the list as CSV, guarded as the shelf is.
func (l *Ideas) Write(w io.Writer) error {
	out := csv.NewWriter(w)
	if err := out.Write(IdeaHeads); err != nil {
		return err
	}
	for _, x := range l.List {
		week := ""
		if x.Week > 0 {
			week = strconv.Itoa(x.Week)
		}
		if err := out.Write([]string{x.Name, guard(x.Title), week, strconv.Itoa(x.Asked), guard(x.Note)}); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// Bytes is what Write writes.
func (l *Ideas) Bytes() ([]byte, error) {
	var b bytes.Buffer
	err := l.Write(&b)
	return b.Bytes(), err
}
