package main

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"dropwright/bundle/finding"
	"dropwright/bundle/source"
)

// texts finds the source line of a place, for the caret.
type texts map[string]*source.Text

func (t texts) add(x *source.Text) {
	if x != nil {
		t[x.File] = x
	}
}

// finding prints one finding: place, level, text and code; the source line with a caret; the hint.
func (u *ui) finding(f finding.Finding, t texts) {
	variant := ""
	if f.Variant != "" {
		variant = f.Variant + ": "
	}
	fmt.Fprintf(u.out, "%s: %s: %s%s [%s]\n", f.At, u.paint(f.Level, f.Level.String()), variant, f.Text, f.Code)
	if line := t[f.At.File].Line(f.At.Line); line != "" {
		shown, caret := window(line, f.At, max(40, u.width-6))
		fmt.Fprintf(u.out, "    %s\n    %s\n", shown, caret)
	}
	if f.Hint != "" {
		fmt.Fprintf(u.out, "    hint: %s\n", f.Hint)
	}
}

// window cuts a long source line to what fits, with the marked place in view, and draws the caret line. Tabs
// become one space, so that the caret stands right.
func window(line string, at finding.Place, width int) (shown, caret string) {
	col := min(max(at.Column-1, 0), len(line))
	before := []rune(strings.ReplaceAll(line[:col], "\t", " "))
	after := []rune(strings.ReplaceAll(line[col:], "\t", " "))
	mark := 1
	if end := min(col+at.Width, len(line)); end > col {
		mark = max(1, utf8.RuneCountInString(line[col:end]))
	}
	lead, tail := "", ""
	if len(before) > width/2 {
		before = before[len(before)-width/2:]
		lead = "…"
	} else {
		trimmed := strings.TrimLeft(string(before), " ")
		before = []rune(trimmed)
		if trimmed == "" {
			after = []rune(strings.TrimLeft(string(after), " "))
		}
	}
	if room := width - len(before); len(after) > room {
		after = after[:room]
		tail = "…"
	}
	mark = min(mark, max(1, len(after)))
	shown = lead + string(before) + string(after) + tail
	caret = strings.Repeat(" ", utf8.RuneCountInString(lead)+len(before)) + "^" + strings.Repeat("~", mark-1)
	return shown, caret
}

// worst is how many findings are printed unless --all asks for the rest.
const worst = 10

// findings prints a list, the worst ten unless all are asked for, and says how many were left out.
func (u *ui) findings(fs []finding.Finding, t texts, all bool) {
	list, hidden := fs, 0
	if !all && len(fs) > worst {
		list, hidden = finding.Worst(fs)[:worst], len(fs)-worst
		finding.Sort(list)
	}
	for _, f := range list {
		u.finding(f, t)
	}
	if hidden > 0 {
		fmt.Fprintf(u.out, "… and %s less grave; --all prints them\n", plural(hidden, "finding"))
	}
}

// jsonFinding is a finding as --format json prints it.
type jsonFinding struct {
	Code    string        `json:"code"`
	Level   finding.Level `json:"level"`
	Variant string        `json:"variant,omitempty"`
	File    string        `json:"file"`
	Line    int           `json:"line"`
	Column  int           `json:"column"`
	Text    string        `json:"text"`
	Hint    string        `json:"hint"`
}

func toJSON(fs []finding.Finding) []jsonFinding {
	out := []jsonFinding{}
	for _, f := range fs {
		out = append(out, jsonFinding{f.Code, f.Level, f.Variant, f.At.File, f.At.Line, f.At.Column, f.Text, f.Hint})
	}
	return out
}

// complain prints the worst findings to stderr: those that keep a command from going on. text is where they
// stand.
func (a *app) complain(found []finding.Finding, text *source.Text) {
	t := texts{}
	t.add(text)
	toStderr := *a.ui
	toStderr.out = a.stderr
	toStderr.findings(found, t, false)
}
