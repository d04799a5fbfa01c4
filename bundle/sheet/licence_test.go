package sheet

import (
	"strings"
	"testing"
)

// TestEarlyLicenceSaysWhatFollows: who gets the files early reads which licence they carry later, whatever the
// early one is; the public sheet has nothing to say of it.
func TestEarlyLicenceSaysWhatFollows(t *testing.T) {
	const want = "From the public day on: CC-BY-SA-4.0."
	for _, early := range []string{"LicenseRef-Early-Access", "CC-BY-NC-4.0", "Artistic-2.0", ""} {
		in, _ := demo(t, "soil-stake", "plain", "en")
		in.Audience, in.Licence, in.Later = "early", early, "CC-BY-SA-4.0"
		var b strings.Builder
		if err := Compose(in).Text(&b); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(squeeze(b.String()), want) {
			t.Errorf("%q: the early sheet does not say %q", early, want)
		}
	}
	in, _ := demo(t, "soil-stake", "plain", "en")
	in.Later = in.Licence
	var b strings.Builder
	if err := Compose(in).Text(&b); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "From the public day on") {
		t.Error("the public sheet speaks of a later licence")
	}
}
