package feed

import (
	"bytes"
	"encoding/xml"
	"strings"
)

// The elements of RFC 4287 that are written, in the order in which they are.
type (
	atomFeed struct {
		XMLName  xml.Name    `xml:"http://www.w3.org/2005/Atom feed"`
		Lang     string      `xml:"xml:lang,attr,omitempty"`
		ID       string      `xml:"id"`
		Title    string      `xml:"title"`
		Subtitle string      `xml:"subtitle,omitempty"`
		Updated  string      `xml:"updated"`
		Author   atomPerson  `xml:"author"`
		Links    []atomLink  `xml:"link"`
		Entries  []atomEntry `xml:"entry"`
	}
	atomPerson struct {
		Name string `xml:"name"`
		URI  string `xml:"uri,omitempty"`
	}
	atomLink struct {
		Rel    string `xml:"rel,attr"`
		Type   string `xml:"type,attr,omitempty"`
		Href   string `xml:"href,attr"`
		Title  string `xml:"title,attr,omitempty"`
		Length int64  `xml:"length,attr,omitempty"`
	}
	atomEntry struct {
		ID        string     `xml:"id"`
		Title     string     `xml:"title"`
		Published string     `xml:"published"`
		Updated   string     `xml:"updated"`
		Links     []atomLink `xml:"link"`
		Summary   string     `xml:"summary,omitempty"`
		Content   *atomText  `xml:"content"`
	}
	atomText struct {
		Type string `xml:"type,attr"`
		Body string `xml:",chardata"`
	}
)

// WriteAtom writes a feed as an Atom document (RFC 4287). Characters that XML 1.0 cannot hold become U+FFFD. An
// error names the entry that breaks a rule of the standard; then nothing is given.
func WriteAtom(f Feed) ([]byte, error) {
	f, err := f.order()
	if err != nil {
		return nil, err
	}
	out := atomFeed{Lang: f.Language, ID: f.ID, Title: line(f.Title), Subtitle: line(f.Subtitle), Updated: stamp(f.Updated), Author: atomPerson{line(f.Author.Name), f.Author.URL}}
	// RFC 4287 section 4.1.1: a feed SHOULD link to itself; where nobody said what the place's address is, a
	// relative one is right wherever it lies.
	if f.Atom != "" {
		out.Links = append(out.Links, atomLink{Rel: "self", Type: "application/atom+xml", Href: f.Atom})
	}
	if f.Home != "" {
		out.Links = append(out.Links, atomLink{Rel: "alternate", Type: "text/html", Href: f.Home})
	}
	for _, x := range f.Items {
		e := atomEntry{ID: x.ID, Title: line(x.Title), Published: stamp(x.Published), Updated: stamp(x.Updated), Summary: line(x.Summary)}
		if x.URL != "" {
			e.Links = append(e.Links, atomLink{Rel: "alternate", Type: "text/html", Href: x.URL})
		}
		for _, file := range x.Files {
			e.Links = append(e.Links, atomLink{Rel: "enclosure", Type: file.Type, Href: file.URL, Title: file.Title, Length: file.Bytes})
		}
		if x.HTML != "" {
			e.Content = &atomText{"html", x.HTML}
		}
		out.Entries = append(out.Entries, e)
	}
	var b bytes.Buffer
	b.WriteString(xml.Header)
	enc := xml.NewEncoder(&b)
	enc.Indent("", " ")
	if err := enc.Encode(out); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

// line makes one line of a text.
func line(s string) string { return strings.Join(strings.Fields(s), " ") }
