package check

import (
	"fmt"
	"strings"

	"dropwright/bundle/design"
)

// bareWords are names that programs and hurry give; with or without a number they tell nothing.
var bareWords = map[string]bool{
	"part": true, "body": true, "object": true, "mesh": true, "component": true, "solid": true, "shape": true, "model": true, "piece": true, "item": true,
	"new": true, "final": true, "copy": true, "untitled": true, "unnamed": true, "test": true, "v": true, "rev": true, "export": true, "stl": true, "print": true,
}

// names: a part's name or title says what it is, and no two parts share a title.
func names(in *Input, r *report) {
	titles := map[string]design.Part{}
	for _, p := range in.Design.Parts {
		if p.Title.Set() {
			key := strings.ToLower(string(p.Title.V))
			if first, ok := titles[key]; ok && overlap(in.Design, p.Only, first.Only) {
				r.add("title-twice", p.Title.At, "", fmt.Sprintf("%s and %s are both called %q", first.Name.V, p.Name.V, p.Title.V), "give one of the two another title")
			}
			titles[key] = p
			continue
		}
		if bare(string(p.Name.V)) && !p.For.Set() {
			r.add("name-bare", p.Name.At, "", fmt.Sprintf("the name %q does not say what the part is", p.Name.V), "give it a name or a title that does, or say what it is for: for: the wall holes")
		}
	}
}

// bare reports whether a name is made of numbers, single letters and bareWords only.
func bare(name string) bool {
	for _, w := range strings.Split(name, "-") {
		w = strings.TrimRight(w, "0123456789")
		if len(w) > 1 && !bareWords[w] {
			return false
		}
	}
	return true
}
