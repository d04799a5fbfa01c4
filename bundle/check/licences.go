package check

import (
	"fmt"
	"path"
	"regexp"
	"strconv"
	"strings"

	"dropwright/bundle/design"
)

// ownWork is what a credit says of the maker's own work.
const ownWork = "own work"

// terms are what a licence asks of who passes a changed copy on. They follow the licences' own texts (Creative
// Commons 3.0 and 4.0, CERN-OHL 2.0, GPL 2 and 3), and are no advice beyond them.
type terms struct {
	family  string  // "CC", "GPL", "CERN-OHL", "" for one that is not known here
	version float64 // 4.0
	share   bool    // changed copies carry the same licence
	noSale  bool    // not for commercial purposes
	closed  bool    // changed copies may not be passed on
	strict  bool    // forbids further conditions
}

var versionShape = regexp.MustCompile(`-(\d+(?:\.\d+)?)(?:$|-)`)

// termsOf reads the terms from an SPDX id.
func termsOf(id string) (terms, bool) {
	t := terms{}
	if m := versionShape.FindStringSubmatch(id); m != nil {
		t.version, _ = strconv.ParseFloat(m[1], 64)
	}
	has := func(word string) bool { return strings.Contains("-"+id+"-", "-"+word+"-") }
	switch {
	case id == "CC0-1.0" || id == "Unlicense" || id == "0BSD":
		return t, true
	case strings.HasPrefix(id, "CC-BY"):
		t.family, t.strict = "CC", true
		t.share, t.noSale, t.closed = has("SA"), has("NC"), has("ND")
		return t, true
	case strings.HasPrefix(id, "CERN-OHL-"):
		t.family, t.share = "CERN-OHL", !has("P")
		t.strict = t.share
		return t, true
	case strings.HasPrefix(id, "GPL-") || strings.HasPrefix(id, "AGPL-") || strings.HasPrefix(id, "LGPL-"):
		t.family, t.share, t.strict = strings.SplitN(id, "-", 2)[0], true, true
		return t, true
	case strings.HasPrefix(id, "TAPR-OHL"), strings.HasPrefix(id, "MPL"):
		t.share = true
		return t, true
	case strings.HasPrefix(id, "MIT"), strings.HasPrefix(id, "BSD-"), strings.HasPrefix(id, "Apache-"), id == "ISC", strings.HasPrefix(id, "SHL-"):
		return t, true
	}
	return terms{}, false
}

// modelsLicence is the licence that the models carry from the public day on.
func (in *Input) modelsLicence() design.Val[design.Text] {
	for _, l := range []design.Val[design.Text]{in.Design.Licences.Models, in.Design.Licence, in.House.Licence} {
		if l.Set() {
			return l
		}
	}
	return design.Val[design.Text]{}
}

// licenceTerms: every class of file has a licence, nothing contradicts it, and a buyer knows what is allowed.
func licenceTerms(in *Input, r *report) {
	d, models := in.Design, in.modelsLicence()
	if !models.Set() {
		return // said by licence
	}
	partial(in, r)
	id, _, listed := LicenceID(string(models.V))
	if !listed {
		return // said by licence
	}
	models.V = design.Text(id)
	t, known := termsOf(id)
	at := models.At
	if at.File != d.File { // the series': said at each design it decides for, where the design could answer
		at = d.Title.At
	}
	if !known && !speaksOfSale(string(d.ExtraTerms.V)) {
		r.add("sell-unclear", at, "", fmt.Sprintf("whether prints may be sold cannot be told from %s", models.V), `say it: extra_terms: "You may sell prints." or "Prints are not for sale."; or use a licence of the SPDX list`)
	}
	if known && t.strict && d.ExtraTerms.Set() {
		r.add("terms-extra", d.ExtraTerms.At, "", fmt.Sprintf("%s lets nobody add conditions, and extra_terms does", models.V), "word it as a wish, in the story; or use a licence that says what you mean")
	}
	for _, p := range in.Facts.Scan.Packages {
		u, ok := in.use(p.File)
		if id, _, isID := LicenceID(p.Licence); ok && p.Licence != "" && !(isID && id == string(models.V)) && !strings.Contains(flatLicence(p.Licence), flatLicence(family(string(models.V)))) {
			r.add("licence-other", u.At, "", fmt.Sprintf("%s says of itself %q; the design is under %s", p.File, cutText(p.Licence), models.V), "clear the field in the program that wrote it, or mend the licence; the bundle's copy says neither")
		}
	}
	sources(in, models, t, known, r)
}

func speaksOfSale(s string) bool {
	s = strings.ToLower(s)
	return strings.Contains(s, "sell") || strings.Contains(s, "sale") || strings.Contains(s, "commercial")
}

// codeEndings are the files that a licence for code is for.
var codeEndings = map[string]bool{".h": true, ".hpp": true, ".c": true, ".cpp": true, ".ino": true, ".py": true, ".rs": true, ".js": true, ".lua": true, ".uf2": true, ".hex": true, ".bin": true}

// partial: texts, pictures and code have a licence too.
func partial(in *Input, r *report) {
	d := in.Design
	if d.Licence.Set() || in.House.Licence.Set() {
		return // it is for everything that has none of its own
	}
	if !d.Licences.Texts.Set() {
		r.add("licence-partial", d.Licences.Models.At, "", "the models have a licence, the texts and pictures have none", "add texts: CC-BY-4.0 beside it, or licence: for everything")
	}
	for _, u := range d.Files() {
		if codeEndings[strings.ToLower(path.Ext(string(u.Path)))] && !d.Licences.Code.Set() {
			r.add("licence-partial", u.At, "", fmt.Sprintf("%s is code and has no licence", u.Path), "add code: MIT to licences, or licence: for everything")
			return
		}
	}
}

// sources: what the design rests on may be used so.
func sources(in *Input, models design.Val[design.Text], ours terms, known bool, r *report) {
	for _, c := range in.Design.Credits {
		if strings.EqualFold(string(c.By.V), ownWork) || c.What.V == "" {
			continue
		}
		if !c.Licence.Set() {
			r.add("source-unlicensed", c.At, "", fmt.Sprintf("no licence is given for %s, by %s", c.What.V, c.By.V), "add licence: with the SPDX id it was published under; without one it may not be used")
			continue
		}
		id, _, ok := LicenceID(string(c.Licence.V))
		theirs, readable := termsOf(id)
		if !ok || !readable {
			if ok {
				r.unknown(c.Licence.At, "", fmt.Sprintf("whether %s allows what is done with %s", c.Licence.V, c.What.V))
			}
			continue
		}
		clash := func(why, hint string) {
			r.add("source-clash", c.Licence.At, "", fmt.Sprintf("%s, by %s, is under %s: %s", c.What.V, c.By.V, id, why), hint)
		}
		switch {
		case theirs.closed && c.Changed.Set():
			clash("changed copies may not be passed on", "ask for leave, or take it out")
		case theirs.noSale && !(known && ours.noSale):
			clash(fmt.Sprintf("it may not be used commercially, and %s allows that", models.V), fmt.Sprintf("publish under %s, ask for leave, or take it out", id))
		case theirs.share && !mayCarry(id, theirs, string(models.V), ours):
			clash(fmt.Sprintf("what is made from it must carry that licence, and %s is another", models.V), fmt.Sprintf("publish under %s, ask for leave, or take it out", id))
		case theirs.share && in.House.EarlyLicence.Set() && !mayCarry(id, theirs, string(in.House.EarlyLicence.V), terms{}):
			clash(fmt.Sprintf("what is made from it must carry that licence, and the early bundle carries %s", in.House.EarlyLicence.V), "ask for leave, take it out, or leave early_licence out of the series")
		}
	}
}

// mayCarry reports whether a licence of ours may be put on what is made from a share-alike work. The same family
// and no older version; from CC-BY-SA 4.0 also GPL 3 and the Free Art License (creativecommons.org,
// "Compatible licenses"); from CERN-OHL-W also CERN-OHL-S (its section 5.2, from memory).
func mayCarry(id string, theirs terms, oursID string, ours terms) bool {
	switch {
	case id == oursID:
		return true
	case theirs.family == "CC":
		sameFamily := ours.family == "CC" && ours.share && ours.noSale == theirs.noSale && !ours.closed && ours.version >= theirs.version
		return sameFamily || id == "CC-BY-SA-4.0" && (strings.HasPrefix(oursID, "GPL-3.0") || oursID == "LAL-1.3")
	case theirs.family == "CERN-OHL":
		return id == "CERN-OHL-W-2.0" && oursID == "CERN-OHL-S-2.0"
	case theirs.family != "":
		return ours.family == theirs.family && (ours.version == theirs.version || strings.HasSuffix(id, "-or-later") && ours.version > theirs.version)
	}
	return false
}

// mentioned are the licences that people name in texts.
var mentioned = regexp.MustCompile(`(?i)\b(CC0|CC[- ]BY(?:[- ](?:NC|SA|ND))*|CERN[- ]OHL(?:[- ][PSW])?|[AL]?GPL)(?:[- ]?v?\d(?:\.\d)?)?\b`)

// closedWords are said of works that may not be sold or copied.
var closedWords = regexp.MustCompile(`(?i)\b(non-?commercial(?: use)? only|not for commercial use|no commercial use|all rights reserved)\b`)

// licenceInTexts: texts name no other licence than the lists do.
func licenceInTexts(in *Input, r *report) {
	models := in.modelsLicence()
	if !models.Set() {
		return
	}
	known := []string{string(models.V), string(in.Design.Licence.V), string(in.Design.Licences.Texts.V), string(in.Design.Licences.Code.V), string(in.House.EarlyLicence.V)}
	for _, c := range in.Design.Credits {
		known = append(known, string(c.Licence.V))
	}
	t, readable := termsOf(string(models.V))
	for _, x := range texts(in) {
		for _, m := range mentioned.FindAllStringSubmatchIndex(x.body, -1) {
			name := x.body[m[2]:m[3]]
			if !holdsLicence(known, name) {
				r.add("licence-other", x.place(m[0], m[1]), "", fmt.Sprintf("%s speaks of %s; the design is under %s", x.name, x.body[m[0]:m[1]], models.V), "mend the text, or the licence; better, leave it to the list: the sheet prints it")
			}
		}
		if readable && !t.noSale {
			for _, m := range closedWords.FindAllStringIndex(x.body, -1) {
				r.add("licence-other", x.place(m[0], m[1]), "", fmt.Sprintf("%s says %q; %s allows it", x.name, x.body[m[0]:m[1]], models.V), "mend the text, or choose the licence that says so")
			}
		}
	}
}

// holdsLicence reports whether a name such as "CC BY-SA" is one of some ids, whatever its version.
func holdsLicence(ids []string, name string) bool {
	for _, id := range ids {
		if id != "" && flatLicence(family(id)) == flatLicence(name) || strings.HasPrefix(flatLicence(id), flatLicence(name)) && flatLicence(name) != "ccby" {
			return true
		}
	}
	return false
}

// family is an id without its version: "CC-BY-SA".
func family(id string) string {
	if m := versionShape.FindStringIndex(id); m != nil {
		return id[:m[0]]
	}
	return id
}

func flatLicence(s string) string {
	return strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(s))
}

func cutText(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:59]) + "…"
	}
	return s
}
