package source

import (
	"regexp"
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

// userInfo is what stands before the host of an address (RFC 3986 section 3.2.1). Its use for passwords is deprecated
// there, and people still write them. The keys of stores hold slashes, so that there it is all up to the last @.
var userInfo = regexp.MustCompile("s3://[^\\s\"'<>]*@|://[^\\s\"'<>/?#]*@")

// Line returns line n (from 1) without its end, or "". It is for showing: a password that stands in an address is
// covered by asterisks, as many as it has bytes, so that columns stay.
func (t *Text) Line(n int) string {
	return userInfo.ReplaceAllStringFunc(t.line(n), func(found string) string {
		scheme, rest, _ := strings.Cut(found, "://")
		return scheme + "://" + strings.Repeat("*", len(rest)-1) + "@"
	})
}

func (t *Text) line(n int) string {
	if t == nil || n < 1 || n > len(t.lines) {
		return ""
	}
	return t.lines[n-1]
}

// place turns a reader's line and rune column into a Place with a byte column.
func (t *Text) place(line, runeColumn, width int) finding.Place {
	l := t.line(line)
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
