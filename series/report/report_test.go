package report

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"dropwright/bundle/design"
)

var t0 = time.Date(2027, 2, 1, 9, 0, 0, 0, time.UTC)

// folder is a design's folder with reports.
func folder(text string) fstest.MapFS {
	return fstest.MapFS{FileName: {Data: []byte(text), Mode: 0o644}}
}

// changes is a manifest with entries, newest first, each "revision answers…".
func changes(entries ...string) *design.Design {
	d := &design.Design{}
	for _, e := range entries {
		words := strings.Fields(e)
		r, err := design.ParseRevision(words[0])
		if err != nil {
			panic(err)
		}
		c := design.Change{Revision: design.Val[design.Revision]{V: r}}
		for _, a := range words[1:] {
			c.Answers = append(c.Answers, design.Val[design.Name]{V: design.Name(a)})
		}
		d.Changes = append(d.Changes, c)
	}
	return d
}

const three = `{"id":"r1","at":"2027-02-01T09:00:00Z","part":"case","revision":"1.0.0","text":"the USB opening is 1 mm too low"}

{"id":"r2","at":"2027-02-01T10:00:00Z","part":"all","revision":"1.0.0","text":"r1 again; step 4 <says> \"M2\""}
{"id":"r3","at":"2027-02-01T11:00:00Z","part":"arm","revision":"1.0.0","text":"cracks"}
{"close":"r3","at":"2027-02-02T09:00:00Z","because":"printed in PLA"}
`

// TestRule: open until an entry's answers name it, or it is closed; a text that mentions it settles nothing.
func TestRule(t *testing.T) {
	for _, c := range []struct {
		name string
		d    *design.Design
		open string
	}{
		{"no revision since", changes("1.0.0"), "r1 r2"},
		{"one answered", changes("1.0.1 r1", "1.0.0"), "r2"},
		{"both", changes("1.0.2 r2", "1.0.1 r1 r3", "1.0.0"), ""},
		{"a manifest that cannot be read", nil, "r1 r2"},
		{"an answer to nothing", changes("1.0.1 r9", "1.0.0"), "r1 r2"},
	} {
		list, err := Open(folder(three), c.d)
		if err != nil {
			t.Fatal(err)
		}
		var ids []string
		for _, r := range list {
			ids = append(ids, r.ID)
		}
		if got := strings.Join(ids, " "); got != c.open {
			t.Errorf("%s: open are %q", c.name, got)
		}
	}
	mentioned := changes("1.0.1", "1.0.0")
	mentioned.Changes[0].Text.V = "settles r1 and r2"
	if list, _ := Open(folder(three), mentioned); len(list) != 2 {
		t.Errorf("a text that mentions reports leaves %d open", len(list))
	}
	all, err := All(folder(three), changes("1.0.3 r1", "1.0.1 r1", "1.0.0"))
	if err != nil || all[0].Answered != "1.0.1" || all[2].Because != "printed in PLA" || !all[2].Settled() {
		t.Errorf("%+v %v", all, err)
	}
	if s := Strays(all, changes("1.0.1 r9 r1")); len(s) != 1 || s[0].V != "r9" {
		t.Errorf("strays: %v", s)
	}
	if list, err := Open(fstest.MapFS{}, nil); err != nil || len(list) != 0 {
		t.Errorf("a design without the file: %v %v", list, err)
	}
}

// TestAdd writes what Read reads.
func TestAdd(t *testing.T) {
	var file bytes.Buffer
	for n := range 3 {
		list, err := Decode(bytes.NewReader(file.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		text, id, err := Add(list, Report{At: t0.Add(1500 * time.Millisecond), Part: "case", Revision: "1.0.0", Text: fmt.Sprintf("  number %d <&> é ", n)})
		if err != nil || id != fmt.Sprintf("r%d", n+1) {
			t.Fatalf("%q %v", id, err)
		}
		file.Write(text)
	}
	text, err := Close("r2", t0, "not ours")
	if err != nil {
		t.Fatal(err)
	}
	file.Write(text)
	list, err := Decode(&file)
	if err != nil || len(list) != 3 || list[1].Because != "not ours" || list[2].Text != "number 2 <&> é" || !list[0].At.Equal(t0.Add(time.Second)) {
		t.Errorf("%+v %v", list, err)
	}
	// Numbers are never used twice, even where a line was taken out.
	if _, id, _ := Add(list[2:], list[0]); id != "r4" {
		t.Errorf("the next is %s", id)
	}
}

// TestLines: what is no line of the file is refused with its number.
func TestLines(t *testing.T) {
	good := strings.SplitN(three, "\n", 2)[0]
	for line, why := range map[string]string{
		`{`:                            "no report",
		`[]`:                           "no report",
		good + "x":                     "behind",
		`{"id":"r2"}`:                  `"at"`,
		`{"id":"r2","at":"yesterday"}`: "no report",
		strings.Replace(good, `"r1"`, `"r01"`, 1):   "no number",
		strings.Replace(good, `"r1"`, `"../r1"`, 1): "no number",
		good: "already",
		strings.Replace(good, `"r1"`, `"r2","close":"r1"`, 1):                                         "to add a report, or",
		strings.Replace(good, `"text"`, `"note"`, 1):                                                  "no report",
		strings.Replace(good, `USB`, `\u001b[2J`, 1):                                                  "U+001B",
		strings.Replace(good, `USB`, `\u202e`, 1):                                                     "U+202E",
		strings.Replace(strings.Replace(good, `USB`, strings.Repeat("x", MaxText), 1), "r1", "r2", 1): "characters",
		strings.Replace(good, `1.0.0`, `1.0`, 1):                                                      "no revision",
		strings.Replace(good, `"case"`, `"Case 1"`, 1):                                                "no name",
		`{"close":"r7","at":"2027-02-02T09:00:00Z","because":"x"}`:                                    "no line above",
		`{"close":"r1","at":"2027-02-02T09:00:00Z"}`:                                                  "empty",
		`{"close":"r1","at":"2027-02-02T09:00:00Z","because":"x","part":"case"}`:                      `beside it`,
		strings.Repeat("x", 20_000):                                                                   "longer than",
	} {
		_, err := Read(folder(good + "\n\n" + line + "\n"))
		var at *LineError
		if !errors.As(err, &at) || at.Line != 3 || !strings.Contains(err.Error(), why) {
			t.Errorf("%.80s: %v, not %q", line, err, why)
		}
	}
	for _, r := range []Report{{At: t0, Part: "case", Revision: "1.0.0"}, {At: t0, Part: "case", Revision: "1.0.0", Text: "a\nb"}, {Part: "case", Revision: "1.0.0", Text: "x"}, {At: t0, Part: "case", Revision: "1.0.0", Text: "\xff"}} {
		if text, _, err := Add(nil, r); err == nil || text != nil {
			t.Errorf("%+v is added", r)
		}
	}
	big := folder(strings.Repeat("\n", MaxFile+1))
	if _, err := Read(big); err == nil {
		t.Error("a file past the limit is read")
	}
}

// FuzzDecode: whatever lies there, reading ends, and what was read can be written and read again.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(three))
	f.Add([]byte(`{"id":"r1","at":"2027-02-01T09:00:00+05:30","part":"case","revision":"1.0.0","text":"é"}`))
	f.Add([]byte("\x00\n{}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := Decode(bytes.NewReader(data))
		if err != nil {
			return
		}
		var again bytes.Buffer
		for _, r := range list {
			text, err := record{ID: r.ID, At: r.At, Part: r.Part, Revision: r.Revision, Text: r.Text}.line()
			if err != nil {
				t.Fatalf("%+v was read and cannot be written: %v", r, err)
			}
			again.Write(text)
			if !r.Closed.IsZero() {
				text, err := record{Close: r.ID, At: r.Closed, Because: r.Because}.line()
				if err != nil {
					t.Fatal(err)
				}
				again.Write(text)
			}
		}
		back, err := Decode(&again)
		if err != nil || len(back) != len(list) {
			t.Fatalf("%d reports become %d: %v", len(list), len(back), err)
		}
	})
}
