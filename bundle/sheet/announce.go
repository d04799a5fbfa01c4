package sheet

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"dropwright/bundle/bom"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// Moment is a day with a wall-clock time, as the calendar of the series has it. The zero Moment is not known.
type Moment struct {
	Day   design.Date
	Clock string // "17:00"
	Zone  string // "Europe/Lisbon"
}

// Drop is what an announcement is made from. Design, Facts, House and BOM must be there.
type Drop struct {
	Design   *design.Design
	Facts    *facts.Design
	House    *design.House
	BOM      bom.BOM // of every variant that goes out, for one build
	Audience design.Audience
	Early    Moment // when the first paying audience gets it
	Public   Moment // when everybody gets it
	Licence  string // SPDX id that this audience's files carry
	Later    string // SPDX id that follows on the public day, when it is another one
}

// Announcement is a text to paste, in the house's language.
type Announcement struct {
	Title    string  `json:"title"`
	Language string  `json:"language"`
	Blocks   []Block `json:"blocks"`
	// Unknown are the placeholders of the story that nothing is known for by that name; they stand in the text as
	// they were written. Missing are those whose figure is not there yet.
	Unknown []string `json:"unknown,omitempty"`
	Missing []string `json:"missing,omitempty"`
}

// Placeholders are what a story may write in braces: {title}, {print_time}, …
var Placeholders = []string{"title", "revision", "date", "early", "public", "print_time", "grams", "variants", "parts", "licence", "maker"}

var placeholder = regexp.MustCompile(`\{([a-z][a-z_]*)\}`)

// Announce makes the text for one audience: title and summary, the story with its placeholders filled, the
// figures, what may be done with it, and what must be said (what was given, what changed).
func Announce(in Drop) *Announcement {
	t := tongueOf(string(in.House.Language.V))
	d := in.Design
	a := &Announcement{Title: string(d.Title.V), Language: codes[t]}
	n := &notice{Drop: in, tongue: t, out: a}
	a.Blocks = append(a.Blocks, heading(2, a.Title), Block{Kind: Para, Spans: []Span{{Text: string(d.Summary.V), Strong: true}}})
	if body, ok := in.Facts.Text(string(d.Story.V)); ok && d.Story.Set() {
		story := Markdown(body, 3)
		// A story that begins with the design's own title would say it twice.
		if len(story) > 0 && story[0].Kind == Heading && strings.EqualFold(strings.TrimSpace(plain(story[0].Spans)), a.Title) {
			story = story[1:]
		}
		eachSpan(story, func(s *Span) {
			if !s.Code {
				s.Text = n.fill(s.Text)
			}
			if h := SafeLink(s.Href); !strings.Contains(h, ":") { // pasted elsewhere, nothing lies beside it
				s.Href = ""
			}
		})
		a.Blocks = append(a.Blocks, story...)
	}
	a.Blocks = append(a.Blocks, n.figures(), n.terms())
	if more := n.more(); len(more.Items) > 0 {
		a.Blocks = append(a.Blocks, more)
	}
	return a
}

// AnnounceTogether makes one text of several, for drops of one day.
func AnnounceTogether(title string, parts ...*Announcement) *Announcement {
	out := &Announcement{Title: title, Language: codes[english]}
	for _, p := range parts {
		out.Language = p.Language
		out.Blocks = append(out.Blocks, p.Blocks...)
		out.Unknown = append(out.Unknown, p.Unknown...)
		out.Missing = append(out.Missing, p.Missing...)
	}
	return out
}

// notice carries what the pieces of an announcement need.
type notice struct {
	Drop
	tongue
	out *Announcement
}

// fill puts values in place of placeholders. It works on text that was parsed already, so that no value can
// become markup.
func (n *notice) fill(s string) string {
	return placeholder.ReplaceAllStringFunc(s, func(m string) string {
		key := m[1 : len(m)-1]
		v, known := n.value(key)
		switch {
		case !known:
			if !slices.Contains(n.out.Unknown, key) {
				n.out.Unknown = append(n.out.Unknown, key)
			}
			return m
		case v == "":
			if !slices.Contains(n.out.Missing, key) {
				n.out.Missing = append(n.out.Missing, key)
			}
			return n.say("not known yet")
		}
		return v
	})
}

func (n *notice) value(key string) (v string, known bool) {
	d := n.Design
	switch key {
	case "title":
		return string(d.Title.V), true
	case "revision":
		return d.Revision().String(), true
	case "date":
		return n.date(d.Dated()), true
	case "early":
		return n.moment(n.Early), true
	case "public":
		return n.moment(n.Public), true
	case "print_time":
		return n.perVariant(func(v bom.Variant) (string, bool) {
			if v.PrintSeconds == nil {
				return "", false
			}
			return n.duration(*v.PrintSeconds), true
		}), true
	case "grams":
		return n.perVariant(n.mass), true
	case "variants":
		return n.list(n.variants()), true
	case "parts":
		return n.perVariant(func(v bom.Variant) (string, bool) {
			total := 0
			for _, p := range v.Parts {
				total += p.Copies + p.Mirrored
			}
			return fmt.Sprint(total), total > 0
		}), true
	case "licence":
		return n.Licence, true
	case "maker":
		return string(n.House.Maker.Name.V), true
	}
	return "", false
}

// mass is the plastic of a variant; unknown when one colour's is.
func (n *notice) mass(v bom.Variant) (string, bool) {
	sum := 0.0
	for _, f := range v.Filament {
		if f.Grams == nil {
			return "", false
		}
		sum += *f.Grams
	}
	return n.tongue.grams(sum), len(v.Filament) > 0
}

// perVariant is a figure for each variant: once when all have the same, "" when one is not known.
func (n *notice) perVariant(figure func(bom.Variant) (string, bool)) string {
	var words, names []string
	for _, v := range n.BOM.Variants {
		w, ok := figure(v)
		if !ok {
			return ""
		}
		words = append(words, w)
		names = append(names, n.variantName(v))
	}
	if len(words) == 0 {
		return ""
	}
	if !slices.ContainsFunc(words, func(w string) bool { return w != words[0] }) {
		return words[0]
	}
	for i := range words {
		words[i] += " (" + names[i] + ")"
	}
	return n.list(words)
}

func (n *notice) variantName(v bom.Variant) string {
	if v.Title != "" {
		return v.Title
	}
	return v.Variant
}

// variants are the names of the variants; none for a design that has only the one.
func (n *notice) variants() []string {
	var out []string
	for _, v := range n.BOM.Variants {
		if v.Variant != design.Plain {
			out = append(out, n.variantName(v))
		}
	}
	return out
}

// moment writes a day and time: 22 January 2027, 17:00 (Europe/Lisbon).
func (n *notice) moment(m Moment) string {
	if m.Day == (design.Date{}) {
		return ""
	}
	s := join(", ", n.date(m.Day), m.Clock)
	if m.Clock != "" && m.Zone != "" {
		s += " (" + m.Zone + ")"
	}
	return s
}

// figures is what a reader asks first.
func (n *notice) figures() Block {
	list := Block{Kind: List}
	add := func(key, v string) {
		if v != "" {
			list.Items = append(list.Items, []Block{{Kind: Para, Spans: []Span{{Text: n.say(key) + ": ", Strong: true}, {Text: v}}}})
		}
	}
	value := func(key string) string { v, _ := n.value(key); return v }
	d := n.Design
	add("revision", d.Revision().String()+", "+n.date(d.Dated()))
	add("announce variants", value("variants"))
	add("announce parts", value("parts"))
	add("announce time", value("print_time"))
	add("announce filament", value("grams"))
	if len(d.Changes) > 1 {
		add("what changed", string(d.Changes[0].Text.V))
	}
	if n.Audience == "public" {
		add("announce here", value("public"))
	} else {
		add("announce early", value("early"))
		add("announce public", value("public"))
	}
	return list
}

// terms says in plain words what may be done with it.
func (n *notice) terms() Block {
	c := newComposer(Input{Design: n.Design, Facts: n.Facts, House: n.House, Licence: n.Licence, Later: n.Later, Audience: n.Audience, Variant: design.Plain})
	c.out.Maker = string(n.House.Maker.Name.V)
	return c.licence()[0]
}

// more is what must or may be said at the end.
func (n *notice) more() Block {
	list := Block{Kind: List}
	add := func(spans ...Span) { list.Items = append(list.Items, []Block{{Kind: Para, Spans: spans}}) }
	d := n.Design
	for _, x := range d.Supplied {
		if bool(x.Disclose.V) {
			add(Span{Text: n.say("supplied", x.What.V, x.By.V)})
		}
	}
	for _, x := range d.Links {
		if !x.Audience.Set() || x.Audience.V == n.Audience {
			add(Span{Text: string(x.What.V) + ": "}, Span{Text: string(x.URL.V), Href: string(x.URL.V)})
		}
	}
	if d.Page.Set() {
		add(Span{Text: n.say("page") + ": "}, Span{Text: string(d.Page.V), Href: string(d.Page.V)})
	}
	return list
}

// Text prints the announcement as plain text.
func (a *Announcement) Text(w io.Writer) error {
	p := plainPrinter{t: tongueOf(a.Language)}
	p.blocks("", a.Blocks)
	_, err := io.WriteString(w, strings.TrimSpace(p.out.String())+"\n")
	return err
}

// HTML prints the announcement as a piece of a page, ready to paste: no head, no style, no script.
func (a *Announcement) HTML(w io.Writer) error {
	s := &Sheet{Design: a.Title, Language: a.Language}
	return s.fragment(w, a.Blocks)
}

// Markdown prints the announcement as CommonMark.
func (a *Announcement) Markdown(w io.Writer) error {
	_, err := io.WriteString(w, markdownOf(a.Blocks))
	return err
}
