package target

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
)

// MarkerName is the object that says whose a target is.
const MarkerName = "dropwright-target.json"

// markerFormat is raised when the marker gets fields that older versions must not ignore.
const markerFormat = 1

// Marker is the identity of a target. It keeps an exchanged line in series.yaml, or a wrong mount, from
// sending early files to the public: every target is asked before the first byte.
type Marker struct {
	Format    int    `json:"format"`
	Series    string `json:"series"`
	Audience  string `json:"audience"`
	Rehearsal bool   `json:"rehearsal"`
}

// Stranger is a target that belongs to something else, or holds files although nothing was released there.
type Stranger struct {
	Target string
	Why    string
	Hint   string
}

func (s *Stranger) Error() string { return fmt.Sprintf("%s %s; %s", s.Target, s.Why, s.Hint) }

// Check compares a target's marker with what it should be and writes nothing. claimed is false for an
// empty target without a marker. Errors: [*Stranger], or the target's.
func Check(ctx context.Context, t Target, want Marker) (claimed bool, err error) {
	want.Format = markerFormat
	data, err := Read(ctx, t, MarkerName, 4096)
	if errors.Is(err, fs.ErrNotExist) {
		objects, err := t.List(ctx)
		if err != nil {
			return false, err
		}
		if len(objects) > 0 {
			return false, &Stranger{t.String(), fmt.Sprintf("holds %q but no %s: it was not laid out by this tool", objects[0].Name, MarkerName),
				"name an empty place in the channel's `to`, or restore the marker from a backup"}
		}
		return false, nil
	} else if err != nil {
		return false, err
	}
	var got Marker
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&got); err != nil || got.Format != markerFormat {
		return false, &Stranger{t.String(), fmt.Sprintf("has a marker of an unknown form in %s", MarkerName), "use the newest version, or restore the marker from a backup"}
	}
	if got != want {
		return false, &Stranger{t.String(), fmt.Sprintf("belongs to %s, not to %s", got, want),
			"correct the channel's `to` and `audience` in series.yaml; nothing was written"}
	}
	return true, nil
}

// Claim checks a target and marks an empty one. After it returns without an error the target is ours.
func Claim(ctx context.Context, t Target, want Marker) error {
	claimed, err := Check(ctx, t, want)
	if claimed || err != nil {
		return err
	}
	want.Format = markerFormat
	data, err := json.Marshal(want)
	if err != nil {
		return err
	}
	err = t.Create(ctx, MarkerName, Text(append(data, '\n')))
	var conflict *Conflict
	if errors.As(err, &conflict) { // another process was quicker with another marker
		_, err = Check(ctx, t, want)
	}
	return err
}

// String names the owner for messages.
func (m Marker) String() string {
	s := fmt.Sprintf("audience %q of series %q", m.Audience, m.Series)
	if m.Rehearsal {
		s += " (rehearsal)"
	}
	return s
}
