package feed

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"
)

// Feed is a list of entries to subscribe to.
type Feed struct {
	ID       string // permanent IRI
	Title    string
	Subtitle string
	Language string // BCP 47, "" for not said
	Author   Person
	Home     string    // address of the page it belongs to; may be relative to the feed
	Atom     string    // its own address as Atom, "" or relative where the place has no known address
	JSON     string    // its own address as JSON Feed, likewise
	Updated  time.Time // of an empty feed; otherwise the latest of the entries counts
	Items    []Item
}

// Person is an author.
type Person struct{ Name, URL string }

// Item is one entry. Text is plain; HTML is a fragment whose links are absolute.
type Item struct {
	ID        string // permanent IRI, see EntryID
	Title     string
	Summary   string
	HTML      string
	URL       string // of its page; may be relative to the feed
	Image     string // of a picture; may be relative
	Published time.Time
	Updated   time.Time // of the last change that matters to readers: a new revision, a withdrawal
	Files     []File
}

// File is something to fetch with an entry.
type File struct {
	URL   string // may be relative to the feed
	Title string
	Type  string // media type
	Bytes int64
}

// MaxItems is the most entries that a feed lists, the newest first: with some kilobytes each that stays below the
// 250 kB that JSON Feed 1.1 calls fine. A season has twelve to fifty-two.
const MaxItems = 60

// order checks a feed, sorts its entries, newest first, and drops those past MaxItems. The argument is not
// changed.
func (f Feed) order() (Feed, error) {
	f.Items = slices.Clone(f.Items)
	if !absolute(f.ID) {
		return f, fmt.Errorf("the feed %q has the id %q: an absolute address is needed (RFC 4287 section 4.2.6)", f.Title, f.ID)
	}
	if strings.TrimSpace(f.Title) == "" || strings.TrimSpace(f.Author.Name) == "" {
		return f, fmt.Errorf("the feed %s needs a title and an author (RFC 4287 section 4.1.1)", f.ID)
	}
	seen := map[string]bool{f.ID: true}
	for _, x := range f.Items {
		switch {
		case !absolute(x.ID):
			return f, fmt.Errorf("the entry %q has the id %q: an absolute address is needed (RFC 4287 section 4.2.6)", x.Title, x.ID)
		case seen[x.ID]:
			return f, fmt.Errorf("two things have the id %q", x.ID)
		case strings.TrimSpace(x.Title) == "":
			return f, fmt.Errorf("the entry %s has no title", x.ID)
		case x.Published.IsZero() || x.Updated.Before(x.Published):
			return f, fmt.Errorf("the entry %q was published %s and updated %s", x.Title, stamp(x.Published), stamp(x.Updated))
		}
		seen[x.ID] = true
		if x.Updated.After(f.Updated) {
			f.Updated = x.Updated
		}
	}
	if f.Updated.IsZero() {
		return f, fmt.Errorf("the feed %q has no time of its last change", f.Title)
	}
	slices.SortFunc(f.Items, func(a, b Item) int {
		if c := b.Published.Compare(a.Published); c != 0 {
			return c
		}
		return strings.Compare(a.ID, b.ID)
	})
	f.Items = f.Items[:min(len(f.Items), MaxItems)]
	return f, nil
}

// absolute reports whether a text is an address with a scheme: https:, urn:, tag:.
func absolute(s string) bool {
	u, err := url.Parse(s)
	return err == nil && u.Scheme != "" && (u.Opaque != "" || u.Host != "")
}

// stamp writes an instant as RFC 3339 in UTC with whole seconds.
func stamp(t time.Time) string { return t.UTC().Truncate(time.Second).Format(time.RFC3339) }
