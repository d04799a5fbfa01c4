package sheet

import "strings"

// sale answers "may I sell prints?" for one licence.
type sale struct {
	name string // the licence's full name, as the SPDX list has it
	say  string // key of the table: "sale.…"
}

// sales holds the licences that makers of printed things use. The answers follow the licences' own texts, and
// are no advice beyond them:
//
//	CC BY, BY-SA 4.0    section 2(a)(1): reproduce and share for any purpose; 3(a) attribution, 3(b) same licence for adaptations
//	CC BY-NC(-SA) 4.0   section 1 (definition of NonCommercial) and 2(a)(1): for non-commercial purposes only
//	CC BY-ND 4.0        section 2(a)(1)(B): adapted material may be made but not shared
//	CC0 1.0             section 2: rights waived
//	CERN-OHL-P 2.0      section 4: products may be made and conveyed with the notices kept
//	CERN-OHL-W/S 2.0    section 4: products may be made and conveyed where the source is made available
//	CERN-OHL 1.1, 1.2   section 4: products may be manufactured and distributed, with a notice to the licensor
//	TAPR-OHL 1.0        section 5: products may be made and sold with the documentation made available
//	SHL-0.51, Apache, MIT, BSD, ISC, Unlicense, 0BSD, GPL, LGPL, AGPL, MPL, OFL: the grants of each
var sales = map[string]sale{
	"CC0-1.0":           {"Creative Commons Zero v1.0 Universal", "sale.free"},
	"CC-BY-4.0":         {"Creative Commons Attribution 4.0 International", "sale.by"},
	"CC-BY-SA-4.0":      {"Creative Commons Attribution-ShareAlike 4.0 International", "sale.by-sa"},
	"CC-BY-3.0":         {"Creative Commons Attribution 3.0 Unported", "sale.by"},
	"CC-BY-SA-3.0":      {"Creative Commons Attribution-ShareAlike 3.0 Unported", "sale.by-sa"},
	"CC-BY-NC-4.0":      {"Creative Commons Attribution-NonCommercial 4.0 International", "sale.no"},
	"CC-BY-NC-SA-4.0":   {"Creative Commons Attribution-NonCommercial-ShareAlike 4.0 International", "sale.no"},
	"CC-BY-NC-ND-4.0":   {"Creative Commons Attribution-NonCommercial-NoDerivatives 4.0 International", "sale.no"},
	"CC-BY-NC-3.0":      {"Creative Commons Attribution-NonCommercial 3.0 Unported", "sale.no"},
	"CC-BY-NC-SA-3.0":   {"Creative Commons Attribution-NonCommercial-ShareAlike 3.0 Unported", "sale.no"},
	"CC-BY-ND-4.0":      {"Creative Commons Attribution-NoDerivatives 4.0 International", "sale.by-nd"},
	"CERN-OHL-P-2.0":    {"CERN Open Hardware Licence Version 2 - Permissive", "sale.notice"},
	"CERN-OHL-W-2.0":    {"CERN Open Hardware Licence Version 2 - Weakly Reciprocal", "sale.source"},
	"CERN-OHL-S-2.0":    {"CERN Open Hardware Licence Version 2 - Strongly Reciprocal", "sale.source"},
	"CERN-OHL-1.1":      {"CERN Open Hardware Licence v1.1", "sale.source"},
	"CERN-OHL-1.2":      {"CERN Open Hardware Licence v1.2", "sale.source"},
	"TAPR-OHL-1.0":      {"TAPR Open Hardware License v1.0", "sale.source"},
	"SHL-0.51":          {"Solderpad Hardware License, Version 0.51", "sale.notice"},
	"Apache-2.0":        {"Apache License 2.0", "sale.notice"},
	"MIT":               {"MIT License", "sale.notice"},
	"ISC":               {"ISC License", "sale.notice"},
	"0BSD":              {"BSD Zero Clause License", "sale.free"},
	"BSD-2-Clause":      {"BSD 2-Clause \"Simplified\" License", "sale.notice"},
	"BSD-3-Clause":      {"BSD 3-Clause \"New\" or \"Revised\" License", "sale.notice"},
	"Unlicense":         {"The Unlicense", "sale.free"},
	"MPL-2.0":           {"Mozilla Public License 2.0", "sale.source"},
	"GPL-2.0-only":      {"GNU General Public License v2.0 only", "sale.source"},
	"GPL-2.0-or-later":  {"GNU General Public License v2.0 or later", "sale.source"},
	"GPL-3.0-only":      {"GNU General Public License v3.0 only", "sale.source"},
	"GPL-3.0-or-later":  {"GNU General Public License v3.0 or later", "sale.source"},
	"LGPL-3.0-only":     {"GNU Lesser General Public License v3.0 only", "sale.source"},
	"LGPL-3.0-or-later": {"GNU Lesser General Public License v3.0 or later", "sale.source"},
	"AGPL-3.0-only":     {"GNU Affero General Public License v3.0 only", "sale.source"},
	"AGPL-3.0-or-later": {"GNU Affero General Public License v3.0 or later", "sale.source"},
}

// licence says under what terms the files come, and answers in plain words whether prints may be sold.
func (c *composer) licence() []Block {
	pairs := Block{Kind: Pairs}
	add := func(term string, spans ...Span) { pairs.Pairs = append(pairs.Pairs, Pair{c.say(term), spans}) }
	id := c.Licence
	switch {
	case id == "":
		add("licence", Span{Text: c.say("licence none")})
		add("may i sell", Span{Text: c.say("sale.ask", c.out.Maker), Strong: true})
	case strings.HasPrefix(id, "LicenseRef-"):
		add("licence", Span{Text: id + ", " + c.say("licence own", c.out.Maker) + "."})
		add("may i sell", Span{Text: c.say("sale.ask", c.out.Maker), Strong: true})
	default:
		link := "https://spdx.org/licenses/" + id + ".html" // the SPDX list's own address of a text
		s, ok := sales[id]
		if !ok {
			link := Span{Text: id, Href: link}
			if strings.ContainsAny(id, " ()") { // an expression of several licences has no page
				link.Href = ""
			}
			add("licence", link)
			add("may i sell", Span{Text: c.say("sale.read"), Strong: true})
			break
		}
		add("licence", Span{Text: id, Href: link}, Span{Text: ", " + s.name})
		add("may i sell", Span{Text: c.say(s.say, c.out.Maker), Strong: true}, Span{Text: " " + c.say("licence prevails")})
	}
	if c.Later != "" && c.Later != id { // said of any licence: who has the files early wants to know what becomes of them
		first := &pairs.Pairs[0]
		stop := ". "
		if strings.HasSuffix(first.Spans[len(first.Spans)-1].Text, ".") {
			stop = " "
		}
		first.Spans = append(first.Spans, Span{Text: stop + c.say("licence later", c.Later)})
	}
	for _, x := range []struct{ term, id string }{{"licence texts", string(c.Design.Licences.Texts.V)}, {"licence code", string(c.Design.Licences.Code.V)}} {
		if x.id != "" && x.id != id {
			add(x.term, Span{Text: x.id})
		}
	}
	if t := c.Design.ExtraTerms; t.Set() {
		add("extra terms", Span{Text: string(t.V)})
	}
	return []Block{pairs}
}
