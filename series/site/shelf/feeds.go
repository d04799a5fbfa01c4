package shelf

import (
	"errors"
	"fmt"
	"html"
	"strings"
	"time"

	"dropwright/series/feed"
	"dropwright/series/ledger"
)

// Names of what is subscribed to.
const (
	AtomName     = "feed.atom"
	JSONName     = "feed.json"
	CalendarName = "dates.ics"
)

// feeds makes both feeds and the calendar, where there is anything to put into them.
func (m *maker) feeds() ([]Page, error) {
	f, err := m.feed()
	if err != nil {
		return nil, err
	}
	atom, err := feed.WriteAtom(f)
	if err != nil {
		return nil, err
	}
	json, err := feed.WriteJSON(f)
	if err != nil {
		return nil, err
	}
	out := []Page{{AtomName, "application/atom+xml; charset=utf-8", atom}, {JSONName, "application/feed+json", json}}
	dates, err := feed.WriteICS(m.calendar())
	switch {
	case errors.Is(err, feed.ErrNoEvents):
	case err != nil:
		return nil, err
	default:
		m.ics = true
		out = append(out, Page{CalendarName, "text/calendar; charset=utf-8", dates})
	}
	return out, nil
}

// root is the space of the place's own ids.
func (m *maker) root() feed.UUID {
	return feed.Derive(feed.Root(m.Log), "channel "+m.Channel)
}

func (m *maker) feed() (feed.Feed, error) {
	f := feed.Feed{ID: feed.Derive(m.root(), "feed").URN(), Title: m.say("feed title", m.Series, m.audience()), Subtitle: m.say("feed subtitle"), Language: m.code(),
		Author: feed.Person{Name: m.Maker, URL: m.MakerURL}, Home: m.Base + "index.html", Atom: m.Base + AtomName, JSON: m.Base + JSONName, Updated: feed.Opened(m.Log)}
	for _, t := range m.things {
		x, err := m.entry(t)
		if err != nil {
			return f, fmt.Errorf("%s: %w", t.Name, err)
		}
		f.Items = append(f.Items, x)
	}
	return f, nil
}

// entry is a design in the feeds: what must be read first, what a revision corrects, what it is, the files.
func (m *maker) entry(t *thing) (feed.Item, error) {
	r := t.Shown
	c := r.Variants[0].Card
	x := feed.Item{ID: feed.EntryID(m.Log, t.Name), Title: c.Title, Summary: c.Summary, URL: m.Base + t.Name + "/index.html", Published: t.First, Updated: t.Updated}
	var b strings.Builder
	notices, err := m.withdrawals(t)
	if err != nil {
		return x, err
	}
	for _, n := range notices {
		b.WriteString(string(n) + "\n")
	}
	correction, err := m.correction(t)
	if err != nil {
		return x, err
	}
	b.WriteString(string(correction))
	fmt.Fprintf(&b, "<p><strong>%s</strong></p>\n", html.EscapeString(c.Summary))
	for _, p := range r.Story {
		fmt.Fprintf(&b, "<p>%s</p>\n", html.EscapeString(p))
	}
	b.WriteString("<ul>\n")
	for _, f := range m.facts(t) {
		fmt.Fprintf(&b, "<li>%s: %s</li>\n", html.EscapeString(f.Term), html.EscapeString(f.Text))
	}
	b.WriteString("</ul>\n")
	x.HTML = b.String()
	if t.Cover != nil {
		x.Image = m.Base + t.Name + "/" + t.Cover.Name
	}
	if !t.live() {
		return x, nil // it is not to be built: nothing to fetch
	}
	for _, w := range r.Variants {
		x.Files = append(x.Files, feed.File{URL: m.Base + t.Name + "/" + r.Revision + "/" + w.Zip.Name, Title: strings.TrimPrefix(c.Title+", "+w.Card.VariantTitle, ", "), Type: "application/zip", Bytes: w.Zip.Bytes})
	}
	for i := range x.Files {
		x.Files[i].Title = strings.TrimSuffix(x.Files[i].Title, ", ")
	}
	return x, nil
}

// calendar is the days of the place's audience: of what is here by the ledger's promises, of what is to come as far
// as it may be told.
func (m *maker) calendar() feed.Calendar {
	c := feed.Calendar{UID: feed.Derive(m.root(), "calendar").String(), Name: m.say("feed title", m.Series, m.audience()), Description: m.say("ics about"), Language: m.code()}
	if absolute(m.Base) {
		c.URL, c.Source = m.Base+"index.html", m.Base+CalendarName
	}
	drops := map[string]feed.Drop{}
	for _, d := range feed.Drops(m.Log) {
		if d.Audience == m.Audience {
			drops[d.Design] = d
		}
	}
	for _, t := range m.things {
		d, promised := drops[t.Name]
		if !promised {
			first := t.Revisions[len(t.Revisions)-1]
			d = feed.Drop{UID: feed.Derive(m.root(), "drop "+t.Name), Due: first.Due, Created: first.At, Modified: first.At}
			if d.Due.IsZero() { // the ledger was put together again from what lay at a place
				d.Due = first.At
			}
		}
		card := t.Shown.Variants[0].Card
		e := feed.Event{UID: d.UID.String(), Start: d.Due, Created: d.Created, Modified: later(d.Modified, t.First), Sequence: d.Sequence, Summary: m.out(card.Title), Description: card.Summary}
		if absolute(m.Base) {
			e.URL = m.Base + t.Name + "/index.html"
		}
		c.Events = append(c.Events, e)
	}
	for _, x := range m.Coming {
		title := x.Title
		if title == "" {
			title = m.say("new design")
		}
		c.Events = append(c.Events, feed.Event{UID: x.UID, Start: x.Due, Created: x.Created, Modified: x.Modified, Sequence: x.Sequence, Summary: m.say("coming event", x.Week, title),
			Description: m.Series, Tentative: x.Tentative, Cancelled: x.Cancelled})
	}
	return c
}

// out says that a design is there for the place's audience.
func (m *maker) out(title string) string {
	switch m.Audience {
	case "early", "public":
		return m.say("out "+m.Audience, title)
	}
	return m.say("out group", title, m.Audience)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

func absolute(s string) bool {
	return strings.HasPrefix(s, "https://") || strings.HasPrefix(s, "http://")
}

// ComingOf is what a ledger says of a week whose design has not come to a place: its event's identity and how often
// it moved. design is "" or not promised: then only the week is known, and due is when the calendar has it. What may
// be told of it is for the caller to add.
func ComingOf(log *ledger.Log, audience string, week int, design string, due time.Time) Coming {
	for _, d := range feed.Drops(log) {
		if d.Design == design && d.Audience == audience {
			return Coming{Week: d.Week, UID: d.UID.String(), Due: d.Due, Created: d.Created, Modified: d.Modified, Sequence: d.Sequence, Cancelled: d.Cancelled}
		}
	}
	return Coming{Week: week, UID: feed.WeekUID(log, audience, week).String(), Due: due, Modified: feed.Opened(log), Tentative: true}
}
