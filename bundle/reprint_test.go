package bundle

import (
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/sheet"
)

// TestReprintKeepsEarlyPartsOut: the public sheet says nothing of a part that only early builders get, nor of one that
// is gone, of which nothing tells any more whom it was for.
func TestReprintKeepsEarlyPartsOut(t *testing.T) {
	part := func(name, audience string) design.Part {
		p := design.Part{}
		p.Name.V = design.Name(name)
		if audience != "" {
			p.Audience.V = design.Audience(audience)
			p.Audience.At.Line = 1
		}
		return p
	}
	k := &Work{Source: Source{Design: &design.Design{Parts: []design.Part{part("case", ""), part("bonus", "early")}}}}
	k.since = "1.0.0"
	k.reprint = map[string][]sheet.Reprint{design.Plain: {{Part: "case", Answer: "no"}, {Part: "bonus", Answer: "yes"}, {Part: "gone", Answer: "no"}}}
	for audience, want := range map[design.Audience]int{"early": 2, "public": 1} {
		if got := k.For(audience).reprintOf(design.Plain); len(got) != want || got[0].Part != "case" {
			t.Errorf("%s: %+v", audience, got)
		}
	}
}
