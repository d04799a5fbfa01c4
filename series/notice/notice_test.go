package notice

import (
	"bytes"
	"strings"
	"testing"

	"dropwright/bundle/compare"
	"dropwright/bundle/sheet"
)

func text(t *testing.T, a *sheet.Announcement) string {
	t.Helper()
	var b bytes.Buffer
	if err := a.Text(&b); err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// vent is a correction as makers have them: one part of one variant, one that may stay, one new, one gone.
func vent() Correction {
	return Correction{Title: "Vent Minder", From: "1.0.0", To: "1.0.1", Texts: []string{"the USB opening is where the socket is"}, Variants: map[string]string{"ce": "96Boards CE", "stack": "PC/104 stack"},
		Link: "https://shelf.example/vent-minder/index.html", Diff: compare.Diff{
			Parts: []compare.PartChange{
				{Part: "arm", Change: compare.Same, Reprint: compare.No, Why: "the file is the same"},
				{Part: "case", Variant: "ce", Change: compare.Changed, Reprint: compare.Yes, Why: "it differs by up to 1.00 mm"},
				{Part: "case", Variant: "stack", Change: compare.Same, Reprint: compare.No},
				{Part: "cheek", Change: compare.Changed, Reprint: compare.OnlyIf, Why: "only if what goes through binds"},
				{Part: "clip", Change: compare.Added, Reprint: compare.Yes},
				{Part: "lug", Change: compare.Removed, Reprint: compare.No},
			},
			Fasteners: []compare.LineChange{{Name: "hatch-screw", Change: "changed", From: "4 x M3x8", To: "4 x M3x10"}, {Name: "pin", Change: compare.Added, To: "1 x ISO 8734"}},
			Steps:     []compare.LineChange{{Name: "Close the hatch", Variant: "ce", Change: "changed", From: "long", To: "longer"}},
			Variants:  []compare.LineChange{{Name: "stack", Change: compare.Added}},
		}}
}

// TestCorrection: what to print again, what perhaps, and that the rest is fine, in that order.
func TestCorrection(t *testing.T) {
	got := text(t, vent().Text())
	at := 0
	for _, want := range []string{"Vent Minder 1.0.1 corrects 1.0.0", "the USB opening is where the socket is", "Printed case (96Boards CE)? Print it again: it differs by up to 1.00 mm.", "clip is a new part: print it.",
		"Printed cheek? Print it again only if what goes through binds.", "lug is no longer used.", "The rest is fine: arm, case (PC/104 stack).", "the variant PC/104 stack is new", "fasteners: hatch-screw was 4 x M3x8 and is 4 x M3x10 now",
		"pin is new (1 x ISO 8734)", "steps: Close the hatch says something else now (96Boards CE)", "https://shelf.example/vent-minder/index.html"} {
		i := strings.Index(got[at:], want)
		if i < 0 {
			t.Fatalf("%q is not there, or too early, in\n%s", want, got)
		}
		at += i
	}
	one := vent()
	one.Diff = compare.Diff{Parts: []compare.PartChange{{Part: "case", Variant: "plain", Change: compare.Turned, Reprint: compare.No}}}
	one.Variants = map[string]string{"plain": ""}
	if got := text(t, one.Text()); !strings.Contains(got, "No printed part need be printed again.") || strings.Contains(got, "plain") || strings.Contains(got, "rest is fine") {
		t.Errorf("nothing to print: %s", got)
	}
	german := vent()
	german.Language = "de"
	if got := text(t, german.Text()); !strings.Contains(got, "case (96Boards CE) schon gedruckt? Neu drucken") || !strings.Contains(got, "Der Rest bleibt") {
		t.Errorf("in German: %s", got)
	}
}

// TestWithdrawal: the reason first, then what now.
func TestWithdrawal(t *testing.T) {
	x := Withdrawal{Title: "Vent Minder", Revision: "1.0.0", Because: "the horn can trap a finger"}
	got := text(t, x.Text())
	for _, want := range []string{"Vent Minder 1.0.0 is withdrawn: please do not build it", "the horn can trap a finger.", "There is no correction yet."} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in %s", want, got)
		}
	}
	x.Better, x.Language = "1.0.1", "de"
	if got := text(t, x.Text()); !strings.Contains(got, "1.0.1 tritt an seine Stelle.") || strings.Contains(got, "noch keine") {
		t.Error(got)
	}
}

// TestMarkup: what a maker writes cannot become markup.
func TestMarkup(t *testing.T) {
	c := vent()
	c.Texts, c.Title = []string{"<script>alert(1)</script> [x](javascript:1)"}, "<b>"
	var b bytes.Buffer
	if err := c.Text().HTML(&b); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "<script") || strings.Contains(b.String(), "<b>") || !strings.Contains(b.String(), "&lt;script&gt;") || !strings.Contains(b.String(), "<code>case (96Boards CE)</code>") {
		t.Error(b.String())
	}
}

// TestWords: every word in both languages, with the same places.
func TestWords(t *testing.T) {
	for key, w := range words {
		if w[0] == "" || w[1] == "" || strings.Count(w[0], "%s") != strings.Count(w[1], "%s") {
			t.Errorf("%s: %q", key, w)
		}
	}
}
