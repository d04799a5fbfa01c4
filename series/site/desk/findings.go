package desk

import (
	"strings"
	"unicode/utf8"

	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// told is a finding as a page prints it.
type told struct {
	Level, Code, Text, Place, Hint string
	Lines                          string // the source line and a caret under it
	Because                        string // why it is taken as it is
}

// tell prepares findings, the gravest first, within a level by place.
func tell(found []finding.Finding, t Texts) []told {
	list := append([]finding.Finding(nil), found...)
	finding.Sort(list)
	var out []told
	for _, l := range []finding.Level{finding.Error, finding.Warning, finding.Note} {
		for _, f := range list {
			if f.Level == l {
				out = append(out, tellOne(f, t))
			}
		}
	}
	return out
}

func tellOne(f finding.Finding, t Texts) told {
	x := told{Level: f.Level.String(), Code: f.Code, Text: f.Text, Place: f.At.String(), Hint: f.Hint}
	if f.Variant != "" {
		x.Text = f.Variant + ": " + x.Text
	}
	if line := t[f.At.File].Line(f.At.Line); strings.TrimSpace(line) != "" {
		x.Lines = marked(line, f.At)
	}
	return x
}

// marked is a source line of at most about a hundred columns with the marked place in view, and a caret line under
// it. Tabs become one space, so that the caret stands right.
func marked(line string, at finding.Place) string {
	const most = 100
	col := min(max(at.Column-1, 0), len(line))
	before := []rune(strings.ReplaceAll(line[:col], "\t", " "))
	after := []rune(strings.ReplaceAll(line[col:], "\t", " "))
	mark := 1
	if end := min(col+at.Width, len(line)); end > col {
		mark = max(1, utf8.RuneCountInString(line[col:end]))
	}
	lead, tail := "", ""
	if len(before) > most/2 {
		before, lead = before[len(before)-most/2:], "…"
	} else {
		before = []rune(strings.TrimLeft(string(before), " "))
		if len(before) == 0 {
			after = []rune(strings.TrimLeft(string(after), " "))
		}
	}
	if room := most - len(before); len(after) > room {
		after, tail = after[:room], "…"
	}
	mark = min(mark, max(1, len(after)))
	return lead + string(before) + string(after) + tail + "\n" + strings.Repeat(" ", utf8.RuneCountInString(lead)+len(before)) + "^" + strings.Repeat("~", mark-1)
}

// tally counts findings in words, the gravest first; "" for none.
func tally(errors, warnings, notes int) string {
	var out []string
	for _, x := range []struct {
		n    int
		word string
	}{{errors, "error"}, {warnings, "warning"}, {notes, "note"}} {
		if x.n > 0 {
			out = append(out, unit.Count(x.n, x.word))
		}
	}
	return strings.Join(out, ", ")
}
