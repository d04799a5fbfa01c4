// Package notice writes the two texts that a maker must find words for after a drop: that a correction is out and who
// must print what again, and that a revision is withdrawn. The same texts are pasted into posts, stand on the pages of
// a place and in its feeds.
//
// It compares nothing and judges nothing: the verdicts are those of bundle/compare, the reasons the maker's own. What
// compare says in English stays English in a German notice.
package notice

import (
	"fmt"
	"slices"
	"strings"

	"dropwright/bundle/compare"
	"dropwright/bundle/sheet"
)

// Correction is a revision that takes the place of another one.
type Correction struct {
	Language string   // BCP 47; English for one that is not in the table
	Title    string   // of the design
	From, To string   // revisions
	Texts    []string // what changed, in the maker's words, newest first
	Diff     compare.Diff
	Variants map[string]string // titles of variants by name
	Link     string            // where it is, "" for not said
}

// Withdrawal is a revision that is not to be built.
type Withdrawal struct {
	Language string
	Title    string
	Revision string
	Because  string // the maker's reason
	Better   string // the revision that takes its place, "" while there is none
	Link     string
}

// words is the table of what is said, English and German.
var words = map[string][2]string{
	"correction":  {"%s %s corrects %s", "%s %s berichtigt %s"},
	"changed":     {"What changed:", "Was sich geändert hat:"},
	"printed":     {"Printed %s? ", "%s schon gedruckt? "},
	"again":       {"Print it again", "Neu drucken"},
	"only if":     {"Printed %s? Print it again only if ", "%s schon gedruckt? Neu drucken nur in diesem Fall: "},
	"new part":    {"%s is a new part: print it", "%s ist neu: drucken"},
	"gone part":   {"%s is no longer used", "%s wird nicht mehr gebraucht"},
	"rest":        {"The rest is fine: %s.", "Der Rest bleibt, wie er ist: %s."},
	"nothing":     {"No printed part need be printed again.", "Kein gedrucktes Teil muss neu gedruckt werden."},
	"also":        {"Look at these again:", "Diese Punkte neu ansehen:"},
	"fasteners":   {"fasteners", "Verbindungselemente"},
	"bought":      {"bought parts", "Kaufteile"},
	"wiring":      {"wiring", "Verdrahtung"},
	"settings":    {"print settings", "Druckeinstellungen"},
	"steps":       {"steps", "Schritte"},
	"added":       {"%s is new (%s)", "%s ist neu (%s)"},
	"removed":     {"%s is gone", "%s entfällt"},
	"altered":     {"%s was %s and is %s now", "%s war %s und ist jetzt %s"},
	"step":        {"%s says something else now", "%s sagt jetzt etwas anderes"},
	"variant new": {"the variant %s is new", "die Variante %s ist neu"},
	"variant off": {"the variant %s is gone", "die Variante %s entfällt"},
	"files":       {"The files:", "Die Dateien:"},
	"withdrawn":   {"%s %s is withdrawn: please do not build it", "%s %s ist zurückgezogen: bitte nicht bauen"},
	"built":       {"If you have built it, read this before you use it again.", "Wer es gebaut hat, liest das hier, bevor er es wieder benutzt."},
	"better":      {"%s takes its place.", "%s tritt an seine Stelle."},
	"no better":   {"There is no correction yet. It will be told in the same place.", "Es gibt noch keine Berichtigung. Sie wird an derselben Stelle bekannt gegeben."},
	"stay":        {"Its files stay where they are, so that everybody can see what was meant.", "Die Dateien bleiben, wo sie sind, damit jeder sehen kann, was gemeint war."},
	"and":         {"and", "und"},
	"in":          {"%s (%s)", "%s (%s)"},
}

// tongue is an index into words.
func tongue(language string) int {
	if language == "de" {
		return 1
	}
	return 0
}

type writer struct {
	t   int
	out *sheet.Announcement
}

func begin(language string) *writer {
	w := &writer{t: tongue(language)}
	w.out = &sheet.Announcement{Language: [2]string{"en", "de"}[w.t]}
	return w
}

func (w *writer) say(key string, args ...any) string {
	text := words[key][w.t]
	if len(args) == 0 {
		return text
	}
	return fmt.Sprintf(text, args...)
}

func (w *writer) title(text string) {
	w.out.Title = text
	w.add(sheet.Block{Kind: sheet.Heading, Level: 2, Spans: []sheet.Span{{Text: text}}})
}

func (w *writer) add(b sheet.Block) { w.out.Blocks = append(w.out.Blocks, b) }

func (w *writer) para(spans ...sheet.Span) {
	w.add(sheet.Block{Kind: sheet.Para, Spans: spans})
}

func (w *writer) list(items ...[]sheet.Span) {
	b := sheet.Block{Kind: sheet.List}
	for _, spans := range items {
		b.Items = append(b.Items, []sheet.Block{{Kind: sheet.Para, Spans: spans}})
	}
	w.add(b)
}

func (w *writer) link(address string) {
	if address != "" {
		w.para(sheet.Span{Text: w.say("files") + " "}, sheet.Span{Text: address, Href: address})
	}
}

// Text makes the notice of a correction. What must be printed again stands first, then what may have to be, then
// that the rest is fine; then what else to look at.
func (c Correction) Text() *sheet.Announcement {
	w := begin(c.Language)
	w.title(w.say("correction", c.Title, c.To, c.From))
	if len(c.Texts) > 0 {
		w.para(sheet.Span{Text: w.say("changed") + " " + stop(strings.Join(c.Texts, "; "))})
	}
	var fine []string
	var must [][]sheet.Span
	for _, verdict := range []string{compare.Yes, compare.OnlyIf, compare.No} {
		for _, p := range c.Diff.Parts {
			if p.Reprint != verdict {
				continue
			}
			name := c.part(w, p)
			switch {
			case p.Change == compare.Removed:
				must = append(must, named(w.say("gone part"), name, "."))
			case p.Change == compare.Added:
				must = append(must, named(w.say("new part"), name, "."))
			case verdict == compare.Yes:
				must = append(must, append(named(w.say("printed"), name, ""), sheet.Span{Text: w.say("again"), Strong: true}, sheet.Span{Text: ": " + stop(p.Why)}))
			case verdict == compare.OnlyIf:
				must = append(must, named(w.say("only if"), name, stop(strings.TrimPrefix(p.Why, "only if "))))
			default:
				fine = append(fine, name)
			}
		}
	}
	if len(must) > 0 {
		w.list(must...)
	}
	switch {
	case !slices.ContainsFunc(c.Diff.Parts, func(p compare.PartChange) bool {
		return p.Reprint != compare.No || p.Change == compare.Added || p.Change == compare.Removed
	}):
		w.para(sheet.Span{Text: w.say("nothing"), Strong: true})
	case len(fine) > 0:
		w.para(sheet.Span{Text: w.say("rest", strings.Join(fine, ", "))})
	}
	if also := c.also(w); len(also) > 0 {
		w.para(sheet.Span{Text: w.say("also")})
		w.list(also...)
	}
	w.link(c.Link)
	return w.out
}

// part names a part, with its variant where it is so in that one only.
func (c Correction) part(w *writer, p compare.PartChange) string {
	if p.Variant == "" || len(c.Variants) < 2 {
		return p.Part
	}
	return w.say("in", p.Part, c.variant(p.Variant))
}

func (c Correction) variant(name string) string {
	if t := c.Variants[name]; t != "" {
		return t
	}
	return name
}

// named puts a name in the place of %s, set as code, and a text behind.
func named(format, name, behind string) []sheet.Span {
	before, after, _ := strings.Cut(format, "%s")
	out := []sheet.Span{{Text: before}, {Text: name, Code: true}, {Text: after + behind}}
	return slices.DeleteFunc(out, func(s sheet.Span) bool { return s.Text == "" })
}

// stop ends a sentence.
func stop(s string) string { return strings.TrimSuffix(s, ".") + "." }

// also is what changed beside the printed parts.
func (c Correction) also(w *writer) [][]sheet.Span {
	var out [][]sheet.Span
	for _, v := range c.Diff.Variants {
		key := "variant new"
		if v.Change == compare.Removed {
			key = "variant off"
		}
		out = append(out, []sheet.Span{{Text: w.say(key, c.variant(v.Name))}})
	}
	for _, l := range []struct {
		key  string
		list []compare.LineChange
	}{{"fasteners", c.Diff.Fasteners}, {"bought", c.Diff.Bought}, {"wiring", c.Diff.Wiring}, {"settings", c.Diff.Settings}, {"steps", c.Diff.Steps}} {
		for _, x := range l.list {
			text := ""
			switch {
			case x.Change == compare.Added && l.key == "steps":
				text = w.say("added", x.Name, w.say("steps"))
			case x.Change == compare.Added:
				text = w.say("added", x.Name, x.To)
			case x.Change == compare.Removed:
				text = w.say("removed", x.Name)
			case l.key == "steps": // the whole text of a step is in the sheet
				text = w.say("step", x.Name)
			default:
				text = w.say("altered", x.Name, x.From, x.To)
			}
			if x.Variant != "" && len(c.Variants) > 1 {
				text = w.say("in", text, c.variant(x.Variant))
			}
			out = append(out, []sheet.Span{{Text: w.say(l.key) + ": ", Strong: true}, {Text: text}})
		}
	}
	return out
}

// Text makes the notice of a withdrawal, the reason before anything else.
func (x Withdrawal) Text() *sheet.Announcement {
	w := begin(x.Language)
	w.title(w.say("withdrawn", x.Title, x.Revision))
	w.para(sheet.Span{Text: stop(x.Because), Strong: true})
	better := w.say("no better")
	if x.Better != "" {
		better = w.say("better", x.Better)
	}
	w.para(sheet.Span{Text: w.say("built") + " " + better + " " + w.say("stay")})
	w.link(x.Link)
	return w.out
}
