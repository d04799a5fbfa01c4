package check

import (
	"fmt"
	"strings"

	"github.com/github/go-spdx/v2/spdxexp/spdxlicenses"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
)

// licence: there is one, and it is an id of the SPDX licence list (or a LicenseRef- of the maker's own).
// The list is that of github.com/github/go-spdx, generated from SPDX's own licence-list data.
func licence(in *Input, r *report) {
	d := in.Design
	written := []design.Val[design.Text]{d.Licence, d.Licences.Models, d.Licences.Texts, d.Licences.Code}
	for _, c := range d.Credits {
		written = append(written, c.Licence)
	}
	for _, l := range written {
		judgeLicence(l, r)
	}
	if !d.Licence.Set() && !d.Licences.Models.Set() {
		if !in.House.Licence.Set() {
			r.add("licence-missing", firstPart(d), "", "neither the design nor the series names a licence for the models", "add licence: CC-BY-SA-4.0 (or another SPDX id) to series.yaml")
		} else if _, _, ok := LicenceID(string(in.House.Licence.V)); !ok {
			judgeLicence(in.House.Licence, r)
		}
	}
}

func judgeLicence(l design.Val[design.Text], r *report) {
	if !l.Set() || l.V == "" {
		return
	}
	id, note, ok := LicenceID(string(l.V))
	switch {
	case !ok && id != "":
		r.add("licence-unknown", l.At, "", fmt.Sprintf("%q is not an id of the SPDX licence list", l.V), "did you mean "+id+"?")
	case !ok:
		r.add("licence-unknown", l.At, "", fmt.Sprintf("%q is not an id of the SPDX licence list", l.V), "use an id such as CC-BY-SA-4.0, CC0-1.0 or CERN-OHL-W-2.0, or LicenseRef-… with a text of your own")
	case note != "":
		r.add("licence-spelling", l.At, "", fmt.Sprintf("%s: %s", l.V, note), "write "+id)
	}
}

// LicenceID looks a text up in the SPDX licence list. ok: it is an id of the list, in any case, or a
// LicenseRef-; id is then the list's own spelling, and note says what to mind (another spelling, an id
// that SPDX has deprecated). Not ok: id is the nearest id of the list, or "".
func LicenceID(text string) (id, note string, ok bool) {
	if rest, found := strings.CutPrefix(text, "LicenseRef-"); found && rest != "" && strings.Trim(rest, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-") == "" {
		return text, "", true
	}
	for _, l := range spdxlicenses.GetLicenses() {
		if strings.EqualFold(l, text) {
			if l != text {
				note = "the SPDX list spells it " + l
			}
			return l, note, true
		}
	}
	for _, l := range spdxlicenses.GetDeprecated() {
		if strings.EqualFold(l, text) {
			return l + "-or-later", "SPDX has deprecated this id; it does not say whether later versions are meant", true
		}
	}
	return nearestLicence(text), "", false
}

// nearestLicence compares without spaces and case, so that "CC BY 4.0" finds CC-BY-4.0.
func nearestLicence(text string) string {
	flat := func(s string) string {
		return strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(s))
	}
	var ids []string
	for _, l := range spdxlicenses.GetLicenses() {
		if flat(l) == flat(text) {
			return l
		}
		ids = append(ids, l)
	}
	return finding.Nearest(text, ids)
}
