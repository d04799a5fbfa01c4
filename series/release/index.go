package release

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"dropwright/bundle/design"
	"dropwright/series/ledger"
	"dropwright/series/target"
)

// Names of the pages at a place.
const (
	IndexName = "release.json"
	PageName  = "RELEASES.txt"
)

// indexFormat is raised when the index gets fields that older versions must not pass over.
const indexFormat = 1

// Index is what a place says it holds, for programs. It follows from the ledger alone.
type Index struct {
	Format    int         `json:"format"`
	Series    string      `json:"series"`
	Audience  string      `json:"audience"`
	Rehearsal bool        `json:"rehearsal,omitempty"`
	Ledger    ledger.Head `json:"ledger"` // the last line when it was written: tells an older copy
	Releases  []Release   `json:"releases"`

	Channel string `json:"-"` // its name in series.yaml, for [Runner.Pages]
}

// Release is one revision at a place, in the order in which they came.
type Release struct {
	Design    string          `json:"design"`
	Revision  string          `json:"revision"`
	Due       time.Time       `json:"due"`
	At        time.Time       `json:"at"`
	Digest    string          `json:"digest"`
	Objects   []ledger.Object `json:"objects"`
	Withdrawn *Withdrawal     `json:"withdrawn,omitempty"`
}

// Withdrawal says why a revision should not be built.
type Withdrawal struct {
	At      time.Time `json:"at"`
	Because string    `json:"because"`
}

// index lists what is at a place, with the drop whose intent has the number under way.
func (r *Runner) index(c *Channel, underWay int) Index {
	x := Index{Format: indexFormat, Series: r.Series, Audience: c.Audience, Rehearsal: c.Rehearsal, Ledger: r.Ledger.Head(), Releases: []Release{}, Channel: c.Name}
	for _, d := range r.Ledger.Deliveries() {
		there := d.Outcome == ledger.Done || d.Outcome == ledger.HandedOver || d.Outcome == "" && d.Intent.Seq == underWay
		if d.Intent.Channel == c.Name && there {
			x.Releases = append(x.Releases, r.entry(d.Intent))
		}
	}
	return x
}

func (r *Runner) entry(intent ledger.Entry) Release {
	e := Release{Design: intent.Design, Revision: intent.Revision, Due: intent.Due, At: intent.At, Digest: intent.Digest, Objects: intent.Objects}
	if w, ok := r.Ledger.Withdrawn(intent.Design, intent.Revision); ok {
		e.Withdrawn = &Withdrawal{w.At, w.Because}
	}
	return e
}

// writeIndex replaces the pages of a place, the index last.
func (r *Runner) writeIndex(ctx context.Context, c *Channel, underWay int) error {
	x := r.index(c, underWay)
	if err := r.writePages(ctx, c, x); err != nil {
		return err
	}
	if err := c.Target.Replace(ctx, PageName, x.page(r.Title, c.Post != nil)); err != nil {
		return err
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(x); err != nil {
		return err
	}
	return c.Target.Replace(ctx, IndexName, b.Bytes())
}

// page is the index for people: newest first, and of each what is wrong with it before anything else. title is the
// series' own, "" for its name; in an outbox the files lie in the folder of a post, as the place takes them.
func (x Index) page(title string, outbox bool) []byte {
	var b bytes.Buffer
	if title == "" {
		title = x.Series
	}
	if outbox {
		fmt.Fprintf(&b, "%s: laid out to be posted to the %s audience", title, x.Audience)
	} else {
		fmt.Fprintf(&b, "%s: released to the %s audience", title, x.Audience)
	}
	if x.Rehearsal {
		b.WriteString(" (REHEARSAL)")
	}
	b.WriteString("\n")
	for _, e := range x.Releases {
		if e.Withdrawn != nil {
			fmt.Fprintf(&b, "\nWITHDRAWN: %s %s. %s\n", e.Design, e.Revision, e.Withdrawn.Because)
		}
	}
	for _, e := range slices.Backward(x.Releases) {
		fmt.Fprintf(&b, "\n%s %s, %s", e.Design, e.Revision, e.At.UTC().Format("2006-01-02 15:04 UTC"))
		if e.Withdrawn != nil {
			b.WriteString("  WITHDRAWN, do not build")
		}
		b.WriteString("\n")
		if outbox {
			fmt.Fprintf(&b, "  laid out in the folder %s:\n", postName(e.Design, e.Revision, x.Audience))
		}
		for _, o := range e.Objects {
			name := objectName(e.Design, e.Revision, o.Name)
			if outbox {
				name = "  " + o.Name
			}
			fmt.Fprintf(&b, "  %s  %d bytes\n", name, o.Bytes)
		}
	}
	return b.Bytes()
}

// parseIndex reads an index strictly.
func parseIndex(data []byte) (Index, error) {
	var x Index
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&x); err != nil {
		return x, fmt.Errorf("it is no index: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return x, fmt.Errorf("text stands behind it")
	}
	if x.Format != indexFormat {
		return x, fmt.Errorf("it has format %d, this version knows %d", x.Format, indexFormat)
	}
	for _, e := range x.Releases {
		// Whoever can write to the place could have written anything: what is no name stays out of the ledger.
		if _, err := design.ParseRevision(e.Revision); err != nil || design.Kebab(e.Design) != e.Design {
			return x, fmt.Errorf("%q is no revision of a design", e.name())
		}
		for _, o := range e.Objects {
			if target.CheckName(o.Name) != nil || strings.Contains(o.Name, "/") || len(o.SHA256) != 64 || o.Bytes < 0 {
				return x, fmt.Errorf("%q is no file of a release", o.Name)
			}
		}
	}
	return x, nil
}

// sameRelease compares what may not change; withdrawals come later.
func sameRelease(a, b Release) bool {
	return a.Design == b.Design && a.Revision == b.Revision && a.Digest == b.Digest && slices.Equal(a.Objects, b.Objects)
}

func (e Release) name() string { return strings.TrimSpace(e.Design + " " + e.Revision) }
