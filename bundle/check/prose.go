package check

import (
	"fmt"
	"regexp"
	"strings"

	"dropwright/bundle/finding"
)

// sizeShape is a screw size with its length as texts write it: M3x16, M3 x 16, M2,5×5.
var sizeShape = regexp.MustCompile(`\b[Mm](\d+(?:[.,]\d+)?)\s?[x×]\s?(\d+(?:[.,]\d+)?)\b`)

// proseSizes: texts name no screw size that the list does not hold.
func proseSizes(in *Input, r *report) {
	d := in.Design
	if len(d.Fasteners) == 0 {
		return
	}
	known := map[string]bool{}
	var shown []string
	for _, f := range d.Fasteners {
		for _, v := range append(f.Screw.Values(), f.Standoff.Values()...) {
			for _, s := range sizesIn(string(v.V)) {
				if !known[s] {
					shown = append(shown, s)
				}
				known[s] = true
			}
		}
	}
	say := func(at finding.Place, where, text string) {
		for _, s := range sizesIn(text) {
			if !known[s] {
				r.add("size-unlisted", at, "", fmt.Sprintf("%s speaks of %s; the list of fasteners holds %s", where, s, strings.Join(shown, ", ")), "mend the text, or the list; better, leave sizes to the list: the sheet prints them")
			}
		}
	}
	for i, s := range d.Assembly {
		where := fmt.Sprintf("step %d, %q,", i+1, s.Title.V)
		say(s.Title.At, where, string(s.Title.V))
		if f, ok := s.TextFile(); ok {
			body, _ := in.Facts.Text(string(f))
			say(s.Text.At, where+" in "+string(f), body)
		} else {
			say(s.Text.At, where, string(s.Text.V))
		}
	}
	if body, ok := in.Facts.Text(string(d.Story.V)); ok && d.Story.Set() {
		say(d.Story.At, string(d.Story.V), body)
	}
}

// sizesIn finds screw sizes with a length in a text, in one spelling: "M3x16".
func sizesIn(text string) []string {
	var out []string
	for _, m := range sizeShape.FindAllStringSubmatch(text, -1) {
		s := "M" + strings.ReplaceAll(m[1], ",", ".") + "x" + strings.ReplaceAll(m[2], ",", ".")
		seen := false
		for _, o := range out {
			seen = seen || o == s
		}
		if !seen {
			out = append(out, s)
		}
	}
	return out
}
