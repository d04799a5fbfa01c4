package check

import (
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// at is any place in a manifest, for values written in tests.
var at = finding.Place{File: "designs/x/design.yaml", Line: 3, Column: 5}

func text(s string) design.Val[design.Text] {
	return design.Val[design.Text]{V: design.Text(s), At: at}
}

// run gives the codes that one rule finds.
func codes(in *Input, rules ...func(*Input, *report)) []string {
	if in.House == nil {
		in.House = &design.House{}
	}
	if in.Facts == nil {
		in.Facts = &facts.Design{}
	}
	r := &report{variants: in.Design.VariantNames()}
	for _, x := range rules {
		x(in, r)
	}
	var out []string
	for _, f := range r.findings {
		out = append(out, f.Code)
	}
	return out
}

// TestShareAlike: which licence may stand on what is made from a share-alike work. The first five rows are the
// cases of creativecommons.org's page "Compatible licenses" and of its FAQ on adapters' licences.
func TestShareAlike(t *testing.T) {
	for _, c := range []struct {
		source, ours string
		may          bool
	}{
		{"CC-BY-SA-4.0", "CC-BY-SA-4.0", true},
		{"CC-BY-SA-3.0", "CC-BY-SA-4.0", true},
		{"CC-BY-SA-4.0", "CC-BY-SA-3.0", false},
		{"CC-BY-SA-4.0", "GPL-3.0-or-later", true},
		{"CC-BY-SA-4.0", "CC-BY-4.0", false},
		{"CC-BY-NC-SA-4.0", "CC-BY-SA-4.0", false},
		{"CC-BY-NC-SA-4.0", "CC-BY-NC-SA-4.0", true},
		{"CERN-OHL-S-2.0", "CERN-OHL-W-2.0", false},
		{"CERN-OHL-S-2.0", "CERN-OHL-S-2.0", true},
		{"CERN-OHL-W-2.0", "CERN-OHL-S-2.0", true},
		{"GPL-2.0-only", "GPL-3.0-only", false},
		{"GPL-2.0-or-later", "GPL-3.0-only", true},
		{"GPL-3.0-only", "CC-BY-SA-4.0", false},
		{"CC-BY-SA-4.0", "LicenseRef-Own", false},
		{"CC-BY-4.0", "MIT", true},
		{"CC0-1.0", "LicenseRef-Own", true},
	} {
		d := &design.Design{Licence: text(c.ours), ExtraTerms: text("You may sell prints."), Credits: []design.Credit{{At: at, What: text("hook"), By: text("a neighbour"), Licence: text(c.source)}}}
		clash := false
		for _, code := range codes(&Input{Design: d}, licenceTerms) {
			clash = clash || code == "source-clash"
		}
		if clash == c.may {
			t.Errorf("made from %s, published under %s: clash %v", c.source, c.ours, clash)
		}
	}
}

// TestEarlyLicence: a share-alike source may not be given to supporters under a closed licence either.
func TestEarlyLicence(t *testing.T) {
	d := &design.Design{Licence: text("CC-BY-SA-4.0"), Credits: []design.Credit{{At: at, What: text("hook"), By: text("a neighbour"), Licence: text("CC-BY-SA-4.0")}}}
	if got := codes(&Input{Design: d, House: &design.House{EarlyLicence: text("LicenseRef-Early-Access")}}, licenceTerms); len(got) != 1 || got[0] != "source-clash" {
		t.Errorf("found %q", got)
	}
	d.Credits[0].By = text(ownWork)
	if got := codes(&Input{Design: d, House: &design.House{EarlyLicence: text("LicenseRef-Early-Access")}}, licenceTerms); len(got) != 0 {
		t.Errorf("own work: found %q", got)
	}
}

// TestLicencesNamedInTexts: names in any spelling are known when the lists hold them.
func TestLicencesNamedInTexts(t *testing.T) {
	for body, want := range map[string]int{
		"Licensed under CC BY-SA 4.0.":             0,
		"CC-BY-SA":                                 0,
		"It is cc by-sa, see the bundle.":          0,
		"Licensed under CC BY 4.0.":                1,
		"Licensed under the GPLv3.":                1,
		"Firmware: MIT. Models: CC BY-NC-SA 4.0.":  1,
		"For non-commercial use only.":             1,
		"You may sell it. All rights reserved.":    1,
		"A non-commercial friend sent the drawing": 0,
	} {
		d := &design.Design{File: at.File, Licence: text("CC-BY-SA-4.0"), Summary: text(body)}
		if got := codes(&Input{Design: d}, licenceInTexts); len(got) != want {
			t.Errorf("%q: found %q, want %d", body, got, want)
		}
	}
}
