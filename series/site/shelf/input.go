package shelf

import (
	"context"
	"io"
	"time"

	"dropwright/series/ledger"
)

// Input is what the pages of one place are made from.
type Input struct {
	Series    string // title
	Maker     string
	MakerURL  string // absolute, "" for none
	Language  string // en or de
	Accent    string // #rrggbb
	Audience  string // early, public, or another group
	Channel   string
	Rehearsal bool
	// Base is the absolute address of the place, with or without a slash at its end; "" where it has none. Feeds
	// then have relative links where their standards allow them, and none elsewhere.
	Base  string
	Zone  string                    // name of the zone that days are written in
	Local func(time.Time) time.Time // an instant in that zone

	Log      *ledger.Log
	Releases []Release // of the place, in the order in which they came
	Coming   []Coming

	// Open opens a file of a release by its hash. The caller of Open closes it.
	Open func(ctx context.Context, r Release, o ledger.Object) (File, error)
}

// File is a bundle that can be read anywhere.
type File interface {
	io.ReaderAt
	io.Closer
}

// Release is one revision at the place.
type Release struct {
	Design, Revision string
	Due              time.Time // the promised instant
	At               time.Time // when it was sent
	Objects          []ledger.Object
	Withdrawn        time.Time // zero: it was not
	Because          string    // of the withdrawal
}

// Coming is a week whose design has not come to the place. It holds nothing but what may be told.
type Coming struct {
	Week      int
	UID       string // of its event in the calendar
	Due       time.Time
	Created   time.Time // zero: nobody was promised it
	Modified  time.Time // when the ledger last changed it
	Sequence  int
	Tentative bool
	Cancelled bool   // it was promised, and will not come
	Title     string // "": a new design
	Picture   []byte // JPEG or PNG without metadata; nil: none
}

// Page is one file of the place.
type Page struct {
	Name string // below the place
	Type string // media type
	Data []byte
}
