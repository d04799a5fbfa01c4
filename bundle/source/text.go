package source

import (
	"strings"
	"unicode/utf8"

	"dropwright/bundle/finding"
)

// Text is one file's text with its name, for showing the line a finding points at.
type Text struct {
	File  string
	Body  string // UTF-8, line ends as \n, no byte order mark
	lines []string
}

// NewText prepares data for showing lines. A byte order mark is dropped and line ends become \n.
func NewText(file string, data []byte) *Text {
	body := strings.TrimPrefix(string(data), "\ufeff")
	body = strings.ReplaceAll(body, "\r\n", "\n")
	body = strings.ReplaceAll(body, "\r", "\n")
	return &Text{File: file, Body: body, lines: strings.Split(body, "\n")}
}

// Line returns line n (from 1) without its end, or "".
func (t *Text) Line(n int) string {
	if t == nil || n < 1 || n > len(t.lines) {
		return ""
	}
	return t.lines[n-1]
}

// place turns a reader's line and rune column into a Place with a byte column.
func (t *Text) place(line, runeColumn, width int) finding.Place {
	l := t.Line(line)
	col := 1
	for i := 1; i < runeColumn && col <= len(l); i++ {
		_, n := utf8.DecodeRuneInString(l[col-1:])
		col += n
	}
	if room := len(l) - (col - 1); width > room {
		width = room
	}
	return finding.Place{File: t.File, Line: line, Column: col, Width: max(width, 0)}
}
