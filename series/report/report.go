// Package report keeps what builders report of a design once it is out: a bracket that cracked, a screw that is too
// short. Reports lie beside the design, in designs/NAME/reports.jsonl, and never go into a bundle.
//
// It is no tracker: a report has no owner, no priority and no talk. It is open until the maker answers it, and only
// so that no correction forgets it.
//
// # The rule
//
// A report is open until one of two things is written:
//
//   - an entry of the design's `changes` names it under `answers: [r3]`: that revision settles it;
//   - it is closed with a reason, because no revision is needed for it.
//
// A revision that only mentions the trouble in its text does not close a report: words are not enough to tell which
// one is meant.
//
// # The format
//
// UTF-8, one JSON object a line, each line ended by "\n"; blank lines are passed over. A line adds a report or closes
// one. Lines are only ever added, so that git merges them and its history tells who wrote what.
//
//	{"id":"r1","at":"2027-02-01T09:00:00Z","part":"case","revision":"1.0.0","text":"the USB opening is 1 mm too low"}
//	{"close":"r1","at":"2027-02-02T09:00:00Z","because":"their printer's belts were loose"}
package report

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"dropwright/bundle/design"
)

// FileName is where reports lie within a design's folder.
const FileName = "reports.jsonl"

// Limits on what is read and kept. Reports come from strangers, and some are pasted in.
const (
	MaxFile    = 4 << 20 // bytes
	maxLine    = 16 << 10
	MaxText    = 2000 // characters of a report or a reason
	maxReports = 10_000
)

// Whole is the part of a report that is about no one part.
const Whole = "all"

// Report is one report.
type Report struct {
	ID       string    `json:"id"` // r1, r2, …
	At       time.Time `json:"at"` // UTC, whole seconds
	Part     string    `json:"part"`
	Revision string    `json:"revision"` // that it was built from
	Text     string    `json:"text"`

	// What settled it; all empty while it is open.
	Answered string    `json:"answered,omitempty"` // the revision whose entry names it
	Closed   time.Time `json:"closed,omitzero"`
	Because  string    `json:"because,omitempty"`
}

// Settled reports whether a report is not open any more.
func (r Report) Settled() bool { return r.Answered != "" || !r.Closed.IsZero() }

// LineError is a line that cannot be read.
type LineError struct {
	Line int // from 1
	Why  string
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Why) }

// record is one line as it is written.
type record struct {
	ID       string    `json:"id,omitempty"`
	Close    string    `json:"close,omitempty"`
	At       time.Time `json:"at"`
	Part     string    `json:"part,omitempty"`
	Revision string    `json:"revision,omitempty"`
	Text     string    `json:"text,omitempty"`
	Because  string    `json:"because,omitempty"`
}

// Read reads the reports of a design's folder in the order in which they came, without looking at its changes. A
// design without the file has none. Errors: [*LineError], or the file system's.
func Read(folder fs.FS) ([]Report, error) {
	f, err := folder.Open(FileName)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	defer f.Close()
	if st, err := f.Stat(); err != nil {
		return nil, err
	} else if !st.Mode().IsRegular() || st.Size() > MaxFile {
		return nil, &LineError{1, fmt.Sprintf("the file is no plain one of at most %d MB", MaxFile>>20)}
	}
	return Decode(io.LimitReader(f, MaxFile+1))
}

// Decode reads reports from text. Errors: [*LineError], or the reader's.
func Decode(r io.Reader) ([]Report, error) {
	var out []Report
	at := map[string]int{}
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, maxLine)
	n := 0
	for lines.Scan() {
		n++
		text := bytes.TrimSpace(lines.Bytes())
		if len(text) == 0 {
			continue
		}
		x, err := decode(text)
		if err != nil {
			return nil, &LineError{n, err.Error()}
		}
		if x.Close != "" {
			i, ok := at[x.Close]
			if !ok {
				return nil, &LineError{n, fmt.Sprintf("it closes %s, which no line above adds", x.Close)}
			}
			out[i].Closed, out[i].Because = x.At, x.Because
			continue
		}
		if _, twice := at[x.ID]; twice {
			return nil, &LineError{n, fmt.Sprintf("there is a report %s already: two lines were added at once, give this one the next free number", x.ID)}
		}
		if len(out) == maxReports {
			return nil, &LineError{n, fmt.Sprintf("more than %d reports", maxReports)}
		}
		at[x.ID] = len(out)
		out = append(out, Report{ID: x.ID, At: x.At, Part: x.Part, Revision: x.Revision, Text: x.Text})
	}
	if err := lines.Err(); errors.Is(err, bufio.ErrTooLong) {
		return nil, &LineError{n + 1, fmt.Sprintf("it is longer than %d bytes", maxLine)}
	} else if err != nil {
		return nil, err
	}
	return out, nil
}

func decode(text []byte) (record, error) {
	var x record
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&x); err != nil {
		return x, fmt.Errorf("it is no report: %s", plain(err))
	}
	if _, err := dec.Token(); err != io.EOF {
		return x, errors.New("text stands behind the report")
	}
	return x, x.check()
}

// plain is an error of the JSON reader without what only a programmer understands.
func plain(err error) string {
	return strings.TrimPrefix(strings.ReplaceAll(err.Error(), "Go struct field record.", ""), "json: ")
}

// check holds a line to the form.
func (x record) check() error {
	if x.At.IsZero() || x.At.Year() < 2000 || x.At.Year() > 9999 {
		return errors.New(`"at" is no time such as 2027-02-01T09:00:00Z`)
	}
	if (x.ID == "") == (x.Close == "") {
		return errors.New(`it needs "id", to add a report, or "close", to close one`)
	}
	if number(x.ID+x.Close) == 0 {
		return fmt.Errorf("%q is no number of a report: they are called r1, r2, …", x.ID+x.Close)
	}
	if x.Close != "" {
		if x.Part != "" || x.Revision != "" || x.Text != "" {
			return errors.New(`a line with "close" has only "at" and "because" beside it`)
		}
		return checkText("because", x.Because)
	}
	if x.Because != "" {
		return errors.New(`"because" belongs to a line with "close"`)
	}
	if x.Part == "" || design.Kebab(x.Part) != x.Part {
		return fmt.Errorf(`"part" is %q, which is no name`, x.Part)
	}
	if r, err := design.ParseRevision(x.Revision); err != nil || r.String() != x.Revision {
		return fmt.Errorf(`"revision" is %q, which is no revision such as 1.0.0`, x.Revision)
	}
	return checkText("text", x.Text)
}

// checkText keeps out what would make a terminal or a reader see something else than what is written: control
// characters, and those that turn the direction of writing (Unicode TR 36 section 3.3).
func checkText(what, s string) error {
	switch {
	case !utf8.ValidString(s):
		return fmt.Errorf("%q is not UTF-8", what)
	case strings.TrimSpace(s) == "":
		return fmt.Errorf("%q is empty", what)
	case utf8.RuneCountInString(s) > MaxText:
		return fmt.Errorf("%q has %d characters; at most %d are kept", what, utf8.RuneCountInString(s), MaxText)
	}
	for _, r := range s {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == '\u061c' || r >= '\u200e' && r <= '\u200f' || r >= '\u202a' && r <= '\u202e' || r >= '\u2066' && r <= '\u2069' {
			return fmt.Errorf("%q holds the invisible character U+%04X", what, r)
		}
	}
	return nil
}

// number is the number of a report's id, 0 for what is none.
func number(id string) int {
	n, err := strconv.Atoi(strings.TrimPrefix(id, "r"))
	if err != nil || n < 1 || n > 1_000_000 || fmt.Sprintf("r%d", n) != id {
		return 0
	}
	return n
}

// All is the reports of a design's folder with what settled each: folder is the design's own, d its manifest.
func All(folder fs.FS, d *design.Design) ([]Report, error) {
	list, err := Read(folder)
	if err != nil || d == nil {
		return list, err
	}
	for _, c := range d.Changes {
		for _, a := range c.Answers {
			for i := range list {
				if list[i].ID == string(a.V) { // entries run from the newest back: the first revision that settled it stays
					list[i].Answered = c.Revision.V.String()
				}
			}
		}
	}
	return list, nil
}

// Open is the reports of a design that nothing has settled.
func Open(folder fs.FS, d *design.Design) ([]Report, error) {
	list, err := All(folder, d)
	var out []Report
	for _, r := range list {
		if !r.Settled() {
			out = append(out, r)
		}
	}
	return out, err
}

// Strays are the answers of a manifest that name no report.
func Strays(list []Report, d *design.Design) []design.Val[design.Name] {
	known := map[string]bool{}
	for _, r := range list {
		known[r.ID] = true
	}
	var out []design.Val[design.Name]
	for _, c := range d.Changes {
		for _, a := range c.Answers {
			if !known[string(a.V)] {
				out = append(out, a)
			}
		}
	}
	return out
}

// Add gives the line of a new report and its number, the next that was never used.
func Add(list []Report, r Report) (text []byte, id string, err error) {
	last := 0
	for _, x := range list {
		last = max(last, number(x.ID))
	}
	if len(list) >= maxReports {
		return nil, "", fmt.Errorf("there are %d reports: more are not kept", len(list))
	}
	x := record{ID: fmt.Sprintf("r%d", last+1), At: whole(r.At), Part: r.Part, Revision: r.Revision, Text: strings.TrimSpace(r.Text)}
	text, err = x.line()
	return text, x.ID, err
}

// Close gives the line that closes a report.
func Close(id string, at time.Time, because string) ([]byte, error) {
	return record{Close: id, At: whole(at), Because: strings.TrimSpace(because)}.line()
}

func whole(t time.Time) time.Time { return t.UTC().Truncate(time.Second) }

func (x record) line() ([]byte, error) {
	if err := x.check(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(x); err != nil {
		return nil, err
	}
	if b.Len() > maxLine {
		return nil, fmt.Errorf("the line would have %d bytes; at most %d are kept", b.Len(), maxLine)
	}
	return b.Bytes(), nil
}
