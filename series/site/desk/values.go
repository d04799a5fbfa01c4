package desk

import (
	"context"
	"time"

	"dropwright/bundle"
	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/source"
	"dropwright/bundle/trial"
	"dropwright/series/outlook"
	"dropwright/series/site"
)

// Source is where the pages get what they show. Its methods may be called by several goroutines.
type Source interface {
	// Season is the view over all weeks.
	Season(ctx context.Context) (*Season, error)
	// Design is one design as it lies in the folder; site.ErrNoPage when there is none of the name. With whole it is
	// measured, however long that takes; without, it may come back as Measuring.
	Design(ctx context.Context, name string, whole bool) (*Design, error)
	// Boards are the profiles built in and those of the designs.
	Boards(ctx context.Context) ([]Board, error)
}

// Season is what the first page shows.
type Season struct {
	Title   string // of the series, the folder's name when series.yaml cannot be read
	Maker   string
	Accent  string            // #rrggbb; "" is the house's own
	Names   []string          // of the design folders, sorted
	Outlook *outlook.Season   // nil: Told or Trouble say why
	Told    []finding.Finding // about series.yaml
	Trouble []string          // what keeps the season from being looked over though series.yaml is sound: a damaged record, say
	Texts   Texts
	Zone    *time.Location // of the series' dates; nil is UTC
}

// Texts finds the source line of a place.
type Texts map[string]*source.Text

// Add keeps a text; nil is left out.
func (t Texts) Add(x *source.Text) {
	if x != nil {
		t[x.File] = x
	}
}

// Design is what a design's page shows.
type Design struct {
	Name      string
	File      string         // the manifest's path as shown
	Work      *bundle.Work   // nil: the manifest cannot be read as meant, or Measuring
	Manifest  *design.Design // as it was read; nil when it cannot be read at all
	Measuring bool           // the files are being measured; the page will change
	Found     []finding.Finding
	Unjudged  []finding.NotChecked
	AsIs      []finding.UsedAsIs
	Texts     Texts
	Trials    []trial.Record // of this design, oldest first
	Week      *outlook.Week  // nil: not known
	Reports   []outlook.Report
	Season    *Season // may be nil
	// BoardTitle names a board profile.
	BoardTitle func(profile string) string
}

// Board is one board profile.
type Board struct {
	Key      string // in paths: the id of a built-in one, design--name of a design's own
	ID       string // as a manifest names it
	File     string // of a design's own profile
	Title    string
	Standard string
	Size     string // "85 × 54 mm"
	UsedBy   []Use
	Facts    [][2]string  // term and figure
	Tables   []site.Table // mounts, ports, headers, rails
	Sources  []string
	Notes    []string
	Drawing  func() string     // SVG, one to one in millimetres
	Told     []finding.Finding // a profile that cannot be read has findings and no drawing
	Texts    Texts
}

// Use is a design's variant that has a board.
type Use struct{ Design, Variant string }

// Kept is a place for what takes time to draw; it may forget anything. A nil Kept keeps nothing.
type Kept interface {
	Get(key string, into any) bool
	Put(key string, v any)
}
