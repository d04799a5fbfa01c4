package shelf

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"dropwright/bundle/compare"
	"dropwright/bundle/design"
	"dropwright/series/ledger"
)

// head is what every page has around its contents.
type head struct {
	Lang, Title, Description string
	Accent                   template.CSS
	Root                     string // "" or "../"
	Series, Audience         string
	Maker, MakerURL          string
	Rehearsal, Hidden, ICS   bool
	Zone                     string
	State                    when // of the last change
}

// when is an instant for people and programs.
type when struct{ Text, ISO string }

func (m *maker) when(t time.Time) when {
	if t.IsZero() {
		return when{}
	}
	return when{m.moment(m.Local(t)), t.UTC().Format(time.RFC3339)}
}

func (m *maker) head(root, title, description string, state time.Time) head {
	accent := template.CSS("#1f4e79")
	if len(m.Accent) == 7 && m.Accent[0] == '#' && strings.Trim(m.Accent[1:], "0123456789abcdefABCDEF") == "" {
		accent = template.CSS(m.Accent)
	}
	return head{Lang: m.code(), Title: title, Description: description, Accent: accent, Root: root, Series: m.Series, Audience: m.audience(), Maker: m.Maker, MakerURL: m.MakerURL,
		Rehearsal: m.Rehearsal, Hidden: m.Audience != "public", ICS: m.ics, Zone: m.Zone, State: m.when(state)}
}

type indexView struct {
	head
	Count   string
	Notices []noticeView
	Designs []cardView
	Coming  []comingView
}

type noticeView struct {
	Href, Title, Text string
}

type cardView struct {
	Name, Href, Title, Summary, Revision, Date string
	Week                                       string
	Cover                                      *picture
	Variants                                   []string
	Print                                      string
	Since                                      when
	Withdrawn                                  bool
}

type comingView struct {
	Week      int
	Day       when
	Title     string
	Picture   string
	Cancelled bool
}

func (m *maker) index() indexView {
	state := m.Log.Entries[0].At
	v := indexView{}
	for _, t := range m.things {
		if t.Updated.After(state) {
			state = t.Updated
		}
		c := t.Shown.Variants[0].Card
		x := cardView{Name: t.Name, Href: t.Name + "/index.html", Title: c.Title, Summary: c.Summary, Revision: c.Revision, Date: m.date(c.Date), Cover: t.Cover, Since: m.when(t.First), Withdrawn: !t.live(), Print: m.printing(t.Shown)}
		if t.Week > 0 {
			x.Week = m.say("week n", t.Week)
		}
		for _, w := range t.Shown.Variants {
			if w.Card.Variant != design.Plain {
				x.Variants = append(x.Variants, variantName(w))
			}
		}
		v.Designs = append(v.Designs, x)
		for _, r := range t.Revisions {
			if !r.Withdrawn.IsZero() {
				v.Notices = append(v.Notices, noticeView{x.Href, c.Title + " " + r.Revision, r.Because})
			}
		}
	}
	for _, c := range m.Coming {
		x := comingView{Week: c.Week, Day: m.when(c.Due), Title: c.Title, Cancelled: c.Cancelled}
		if x.Title == "" {
			x.Title = m.say("new design")
		}
		if len(c.Picture) > 0 {
			x.Picture, _ = comingPicture(c)
		}
		if c.Modified.After(state) {
			state = c.Modified
		}
		v.Coming = append(v.Coming, x)
	}
	v.Count = m.say("design count", len(v.Designs))
	if len(v.Designs) == 1 {
		v.Count = m.say("one design")
	}
	v.head = m.head("", m.Series, m.say("feed subtitle"), state)
	return v
}

func variantName(v variant) string {
	if v.Card.VariantTitle != "" {
		return v.Card.VariantTitle
	}
	return v.Card.Variant
}

// printing is how long and how much: of all variants, from the least to the most.
func (m *maker) printing(r *revision) string {
	var low, high, light, heavy float64
	for i, v := range r.Variants {
		seconds, grams, ok := v.total()
		if !ok {
			return ""
		}
		if i == 0 {
			low, high, light, heavy = seconds, seconds, grams, grams
		}
		low, high, light, heavy = min(low, seconds), max(high, seconds), min(light, grams), max(heavy, grams)
	}
	span := func(a, b string) string {
		if a == b {
			return a
		}
		return a + " – " + b
	}
	return span(m.duration(low), m.duration(high)) + ", " + span(m.grams(light), m.grams(heavy)) + nbsp + "g"
}

// total is the printing time in seconds and the plastic in grams of a variant.
func (v variant) total() (seconds, grams float64, ok bool) {
	if len(v.Card.BOM.Variants) != 1 || v.Card.BOM.Variants[0].PrintSeconds == nil {
		return 0, 0, false
	}
	b := v.Card.BOM.Variants[0]
	for _, f := range b.Filament {
		if f.Grams == nil {
			return 0, 0, false
		}
		grams += *f.Grams
	}
	return *b.PrintSeconds, grams, true
}

type designView struct {
	head
	Name, Heading, Summary string
	Withdrawn              bool
	Withdrawals            []template.HTML
	Correction             template.HTML
	Facts                  []fact
	Pictures               []picture
	Story                  []string
	Files                  []fileView
	Sums                   string
	Builds                 []buildView
	Changes                []changeView
	Dates                  []dateView
	Older                  []olderView
}

type fact struct{ Term, Text string }

type fileView struct{ Href, Name, Variant, Size, SHA256 string }

type dateView struct {
	What string
	When when
}

type olderView struct {
	Revision  string
	Withdrawn bool
	Since     when
	Files     []fileView
}

type changeView struct {
	Revision, Date, Text string
	Here, Withdrawn      bool
	Before               string
	Quiet                bool
	Verdicts             []verdictView
}

type verdictView struct{ Part, Answer, Why, Class string }

type buildView struct {
	ID, Title         string
	Sheet, Bill       string
	Parts             []partView
	Together          [2]string // grams, time
	Filaments         []filamentView
	Fasteners, Bought []itemView
}

type partView struct {
	Name, Note, Copies, Filament, Colour, Size, Settings, Grams, Time string
}

type filamentView struct{ Name, Colour, Material, Also, Grams, Metres string }

type itemView struct{ What, Note, Count, For string }

func (m *maker) design(t *thing) (v designView, err error) {
	r := t.Shown
	c := r.Variants[0].Card
	v = designView{head: m.head("../", c.Title+", "+m.Series, c.Summary, t.Updated), Name: t.Name, Heading: c.Title, Summary: c.Summary, Withdrawn: !t.live(), Pictures: t.Pictures, Story: r.Story,
		Sums: r.Revision + "/SHA256SUMS"}
	if v.Withdrawals, err = m.withdrawals(t); err != nil {
		return v, err
	}
	if v.Correction, err = m.correction(t); err != nil {
		return v, err
	}
	v.Facts = m.facts(t)
	for _, w := range r.Variants {
		v.Files = append(v.Files, m.file(r, w.Zip, w))
		if t.live() { // what is withdrawn is not to be printed
			v.Builds = append(v.Builds, m.build(t, w))
		}
	}
	for _, x := range r.Changes {
		v.Changes = append(v.Changes, m.change(t, x))
	}
	v.Dates = m.dates(t)
	for _, o := range t.Revisions {
		if o == r {
			continue
		}
		x := olderView{Revision: o.Revision, Withdrawn: !o.Withdrawn.IsZero(), Since: m.when(o.At)}
		for _, w := range o.Variants {
			x.Files = append(x.Files, m.file(o, w.Zip, w))
		}
		v.Older = append(v.Older, x)
	}
	return v, nil
}

func (m *maker) facts(t *thing) []fact {
	c := t.Shown.Variants[0].Card
	out := []fact{{m.say("revision"), m.say("dated", c.Revision, m.date(c.Date))}}
	var names []string
	for _, w := range t.Shown.Variants {
		if w.Card.Variant != design.Plain {
			names = append(names, variantName(w))
		}
	}
	if len(names) > 0 {
		out = append(out, fact{m.say("variants"), strings.Join(names, ", ")})
	}
	if p := m.printing(t.Shown); p != "" {
		out = append(out, fact{m.say("print time"), p})
	}
	if c.Licence != "" {
		text := c.Licence
		if c.Later != "" {
			text = m.say("later", c.Licence, c.Later)
		}
		out = append(out, fact{m.say("licence"), text})
	}
	return out
}

func (m *maker) file(r *revision, o ledger.Object, w variant) fileView {
	f := fileView{Href: r.Revision + "/" + o.Name, Name: o.Name, Size: m.bytes(o.Bytes), SHA256: o.SHA256}
	if w.Card.Variant != design.Plain {
		f.Variant = variantName(w)
	}
	return f
}

// dates are the days of the design, as they were promised, for every audience up to this one.
func (m *maker) dates(t *thing) []dateView {
	var out []dateView
	for _, d := range m.Log.Dates(t.Name) {
		what := m.say("to group", d.Audience)
		switch d.Audience {
		case "early":
			what = m.say("to supporters")
		case "public":
			what = m.say("to everybody")
		}
		out = append(out, dateView{what, m.when(d.UTC)})
	}
	for _, r := range slices.Backward(t.Revisions) {
		out = append(out, dateView{m.say("revision") + " " + r.Revision, m.when(r.At)})
	}
	return out
}

func (m *maker) change(t *thing, x change) changeView {
	v := changeView{Revision: x.Revision, Date: m.date(x.Date), Text: x.Text}
	for _, r := range t.Revisions {
		if r.Revision != x.Revision {
			continue
		}
		v.Here, v.Withdrawn, v.Before = true, !r.Withdrawn.IsZero(), r.Before
		if r.Before == "" {
			break
		}
		v.Quiet = quiet(r.Diff)
		for _, p := range r.Diff.Parts {
			name := p.Part
			if p.Variant != "" && len(r.Variants) > 1 {
				name += " (" + p.Variant + ")"
				if title := variantTitles(r)[p.Variant]; title != "" {
					name = p.Part + " (" + title + ")"
				}
			}
			why := strings.TrimPrefix(p.Why, "only if ")
			v.Verdicts = append(v.Verdicts, verdictView{name, m.say(p.Reprint), why, p.Reprint})
		}
		slices.SortStableFunc(v.Verdicts, func(a, b verdictView) int { return rank(a.Class) - rank(b.Class) })
	}
	return v
}

// rank sorts what must be printed before what may stay.
func rank(verdict string) int {
	return slices.Index([]string{compare.Yes, compare.OnlyIf, compare.No}, verdict)
}

func (m *maker) build(t *thing, w variant) buildView {
	v := buildView{ID: "build-" + w.Card.Variant, Title: m.say("build")}
	if w.Card.Variant != design.Plain {
		v.Title += ": " + variantName(w)
	}
	for _, s := range t.Sheets {
		if s.Variant == w.Card.Variant {
			v.Sheet, v.Bill = s.Sheet, s.Bill
		}
	}
	colours := map[string]string{}
	if len(w.Card.BOM.Variants) == 1 {
		b := w.Card.BOM.Variants[0]
		for _, f := range b.Filament {
			colours[f.Filament] = f.Colour
			x := filamentView{Name: f.Filament, Colour: f.Colour, Material: f.Material}
			if len(f.Also) > 0 {
				x.Also = m.say("or", strings.Join(f.Also, ", "))
			}
			if f.Grams != nil {
				x.Grams = m.grams(*f.Grams)
			}
			if f.Metres != nil {
				x.Metres = m.number(*f.Metres, 1)
			}
			v.Filaments = append(v.Filaments, x)
		}
		for _, f := range b.Fasteners {
			v.Fasteners = append(v.Fasteners, itemView{f.Designation, m.note(f.Optional), fmt.Sprint(f.Count), strings.Join(f.UsedBy, ", ")})
		}
		for _, x := range b.Bought {
			v.Bought = append(v.Bought, itemView{x.What, m.note(x.Optional), strings.TrimSpace(m.count(x.Count) + nbsp + x.Unit), x.Name})
		}
	}
	for _, p := range w.Card.Parts {
		if p.Kind == "reference" {
			continue
		}
		x := partView{Name: p.Name, Copies: fmt.Sprint(p.Copies + p.Mirrored), Filament: p.Filament, Colour: colours[p.Filament], Settings: p.Print}
		var notes []string
		if p.Title != "" {
			notes = append(notes, p.Title)
		}
		if p.Kind == "jig" || p.Kind == "spare" {
			notes = append(notes, m.say(p.Kind))
		}
		if p.Mirrored > 0 {
			notes = append(notes, m.say("mirrored", p.Mirrored))
		}
		if p.Optional {
			notes = append(notes, m.say("optional"))
		}
		x.Note = strings.Join(notes, ", ")
		if s := p.Stands; s != nil {
			x.Size = fmt.Sprintf("%d × %d × %d", round(s[0]), round(s[1]), round(s[2]))
		}
		if e := p.Estimate; e != nil {
			x.Grams, x.Time = m.grams(e.Grams), m.duration(e.Seconds)
		}
		v.Parts = append(v.Parts, x)
	}
	if seconds, grams, ok := w.total(); ok {
		v.Together = [2]string{m.grams(grams), m.duration(seconds)}
	}
	return v
}

func (m *maker) note(optional bool) string {
	if optional {
		return m.say("optional")
	}
	return ""
}

func round(x float64) int { return int(math.Ceil(x - 0.05)) }

// goneView is the page in the place of a sheet that is withdrawn.
type goneView struct {
	head
	Because string
}

func (m *maker) gone(t *thing) goneView {
	c := t.Shown.Variants[0].Card
	return goneView{m.head("../", c.Title+" "+c.Revision, c.Summary, t.Updated), t.Shown.Because}
}
