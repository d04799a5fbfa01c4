// Package cache keeps what was measured, by the hash of everything it was measured from, in a folder of the
// user's. It is a cache only: any file of it may vanish or be damaged at any time, and a reader then measures
// afresh. It knows nothing of what it keeps.
//
// Several processes may use one folder: files appear whole, by renaming, and are never changed. The folder is
// kept below a size by dropping the files that were written first.
package cache

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// DefaultLimit is how many bytes the folder may hold: some ten thousand measured designs.
const DefaultLimit = 256 << 20

// Cache is a folder of measured things. A nil Cache keeps nothing and finds nothing.
type Cache struct {
	dir   string
	tool  string
	limit int64
	once  sync.Once
}

// New uses a folder, which need not exist. tool names the build of the program: what another build measured
// is not found. limit is in bytes; 0 means DefaultLimit.
func New(dir, tool string, limit int64) *Cache {
	if limit <= 0 {
		limit = DefaultLimit
	}
	return &Cache{dir: dir, tool: tool, limit: limit}
}

// Key is the hash of everything that a value depends on. The parts are kept apart, so that "ab","c" and
// "a","bc" differ.
func Key(parts ...any) string {
	h := sha256.New()
	for _, p := range parts {
		b, err := json.Marshal(p)
		if err != nil {
			b = fmt.Appendf(nil, "%#v", p)
		}
		fmt.Fprintf(h, "%d:", len(b))
		h.Write(b)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// path is where a key's value lies.
func (c *Cache) path(key string) string {
	full := Key(c.tool, key)
	return filepath.Join(c.dir, full[:2], full+".json")
}

// entry wraps a value with a sum over it, so that a damaged file is noticed.
type entry struct {
	Sum   string          `json:"sum"`
	Value json.RawMessage `json:"value"`
}

// Get fills into and reports whether the key was there, whole and of this build.
func (c *Cache) Get(key string, into any) bool {
	if c == nil {
		return false
	}
	data, err := os.ReadFile(c.path(key))
	if err != nil {
		return false
	}
	var e entry
	if json.Unmarshal(data, &e) != nil || e.Sum != sum(e.Value) {
		return false
	}
	return json.Unmarshal(e.Value, into) == nil
}

func sum(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:8])
}

// Put keeps a value. A cache that cannot be written is no failure: the next run measures again.
func (c *Cache) Put(key string, v any) {
	if c == nil {
		return
	}
	value, err := json.Marshal(v)
	if err != nil {
		return
	}
	data, err := json.Marshal(entry{sum(value), value})
	if err != nil || int64(len(data)) > c.limit/8 {
		return
	}
	p := c.path(key)
	if os.MkdirAll(filepath.Dir(p), 0o700) != nil {
		return
	}
	f, err := os.CreateTemp(filepath.Dir(p), ".new-*")
	if err != nil {
		return
	}
	_, err = f.Write(data)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), p)
	}
	if err != nil {
		_ = os.Remove(f.Name())
	}
	c.once.Do(c.prune) // once a run is enough: a run adds little
}

// prune drops the files written first until the folder is below three quarters of its limit.
func (c *Cache) prune() {
	type file struct {
		path string
		size int64
		at   int64
	}
	var all []file
	total := int64(0)
	_ = filepath.WalkDir(c.dir, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return nil
		}
		if info, err := e.Info(); err == nil && (strings.HasSuffix(p, ".json") || strings.HasPrefix(e.Name(), ".new-")) {
			all = append(all, file{p, info.Size(), info.ModTime().UnixNano()})
			total += info.Size()
		}
		return nil
	})
	if total <= c.limit {
		return
	}
	slices.SortFunc(all, func(a, b file) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.path, b.path)) })
	for _, f := range all {
		if total <= c.limit*3/4 {
			return
		}
		if os.Remove(f.path) == nil {
			total -= f.size
		}
	}
}
