package schedule

import (
	"regexp"
	"strings"
)

var (
	changesKey = regexp.MustCompile(`(?m)^changes[ \t]*:`)
	// The revision must be the first key of the first entry, with nothing but whole-line comments before it:
	// anything else could be the revision of an older entry.
	topEntry = regexp.MustCompile(`^(?:\s|(?m:^[ \t]*#.*$))*[-[]?\s*\{?\s*revision[ \t]*:[ \t]+` +
		`(?:"((?:0|[1-9][0-9]*)\.(?:0|[1-9][0-9]*)\.(?:0|[1-9][0-9]*))"|'((?:0|[1-9][0-9]*)\.(?:0|[1-9][0-9]*)\.(?:0|[1-9][0-9]*))'|((?:0|[1-9][0-9]*)\.(?:0|[1-9][0-9]*)\.(?:0|[1-9][0-9]*)))[ \t]*(?:[,}\n]|$|[ \t]#)`)
)

// Glance finds the present revision in the text of a manifest without decoding it: the first one under
// `changes`. A season of a hundred designs is looked at whenever a timer fires, and decoding them all takes
// a hundred times as long. What it cannot tell for sure is "": decode the manifest then.
func Glance(manifest []byte) string {
	text := string(manifest)
	at := changesKey.FindAllStringIndex(text, 2)
	if len(at) != 1 {
		return ""
	}
	text = text[at[0][1]:]
	text = text[:min(len(text), 4096)] // the top entry stands first
	m := topEntry.FindStringSubmatch(strings.ReplaceAll(text, "\r", "\n"))
	if m == nil {
		return ""
	}
	return m[1] + m[2] + m[3] // one of them
}
