package release

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"dropwright/series/disk"
	"dropwright/series/target"
)

// seen is what this machine has read at a place in the network, so that a season need not be fetched again at each
// drop: an object that bears the mark that it bore when it was read is what it was. Whatever has another mark, or is
// not in it, is read. It is kept in the store, may be lost, and does not serve `ledger verify`, which reads all.
type seen struct {
	store   *Store
	path    string
	changed bool
	Objects map[string]sighting `json:"objects"`
}

type sighting struct {
	Mark   string `json:"mark"`
	SHA256 string `json:"sha256"`
}

// maxSeen bounds what is read of it, in bytes.
const maxSeen = 32 << 20

// seenAt reads what is known of a channel; nil where its place gives no marks.
func (r *Runner) seenAt(c *Channel) *seen {
	if _, ok := c.Target.(target.Marked); !ok || r.Store == nil {
		return nil
	}
	s := &seen{store: r.Store, path: filepath.Join(r.Store.folder, "seen-"+c.Name+".json")}
	if f, err := r.Store.disk.OpenFile(s.path, os.O_RDONLY, 0); err == nil {
		data, err := io.ReadAll(io.LimitReader(f, maxSeen))
		f.Close()
		if err != nil || json.Unmarshal(data, s) != nil {
			s.Objects = nil // all is read again
		}
	}
	if s.Objects == nil {
		s.Objects = map[string]sighting{}
	}
	return s
}

// sum is an object's SHA-256: as it was read before if it still bears the same mark, else read now.
func (s *seen) sum(ctx context.Context, t target.Target, name string) (string, error) {
	if s == nil {
		return target.Sum(ctx, t, name)
	}
	mark, err := t.(target.Marked).Mark(ctx, name)
	if err != nil {
		return "", err
	}
	if old, ok := s.Objects[name]; ok && mark != "" && old.Mark == mark {
		return old.SHA256, nil
	}
	sum, err := target.Sum(ctx, t, name)
	if err == nil && mark != "" {
		s.Objects[name] = sighting{mark, sum}
		s.changed = true
	}
	return sum, err
}

// keep writes it down. That it could not is no reason to stop: the next run reads again.
func (s *seen) keep() {
	if s == nil || !s.changed {
		return
	}
	data, err := json.Marshal(s)
	if err == nil {
		err = s.store.Ready()
	}
	if err == nil {
		err = disk.Replace(s.store.disk, s.path, data)
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		_ = s.store.disk.Remove(s.path)
	}
}
