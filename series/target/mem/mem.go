// Package mem is a target in memory, for tests and for trying a plan out. It behaves as a store in the
// network would: every operation may fail, and a write may be done although its answer is lost.
package mem

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"sync"

	"dropwright/series/target"
)

// Op is one operation, numbered from 1.
type Op struct {
	N    int
	Kind string // stat, open, create, replace, list, sweep
	Name string
	// Late is true when the operation has been carried out and an error loses only the answer.
	Late bool
}

// Target is a set of objects in memory. Make it with [New].
type Target struct {
	// Fault is asked before every operation, and once more after a write with Late; a non-nil error is the
	// operation's result. It must be set before the target is used.
	Fault func(Op) error

	name    string
	mu      sync.Mutex
	objects map[string][]byte
	count   int
	writes  map[string]int
}

var _ target.Target = (*Target)(nil)

// New is an empty target.
func New(name string) *Target {
	return &Target{name: name, objects: map[string][]byte{}, writes: map[string]int{}}
}

// String names the target.
func (t *Target) String() string { return "mem:" + t.name }

func (t *Target) begin(ctx context.Context, kind, name string) (n int, err error) {
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	if kind != "list" && kind != "sweep" {
		if err := target.CheckName(name); err != nil {
			return 0, err
		}
	}
	t.mu.Lock()
	t.count++
	n = t.count
	t.mu.Unlock()
	return n, t.ask(Op{N: n, Kind: kind, Name: name})
}

func (t *Target) ask(op Op) error {
	if t.Fault == nil {
		return nil
	}
	if err := t.Fault(op); err != nil {
		return fmt.Errorf("%s: %s %q: %w", t, op.Kind, op.Name, err)
	}
	return nil
}

func (t *Target) get(name string) ([]byte, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	data, ok := t.objects[name]
	if !ok {
		return nil, fmt.Errorf("%s: %q: %w", t, name, fs.ErrNotExist)
	}
	return data, nil
}

// Stat is target.Target's.
func (t *Target) Stat(ctx context.Context, name string) (target.Info, error) {
	if _, err := t.begin(ctx, "stat", name); err != nil {
		return target.Info{}, err
	}
	data, err := t.get(name)
	return target.Info{Name: name, Bytes: int64(len(data))}, err
}

// Open is target.Target's.
func (t *Target) Open(ctx context.Context, name string) (io.ReadCloser, error) {
	if _, err := t.begin(ctx, "open", name); err != nil {
		return nil, err
	}
	data, err := t.get(name)
	if err != nil {
		return nil, err
	}
	return io.NopCloser(bytes.NewReader(data)), nil
}

// Create is target.Target's.
func (t *Target) Create(ctx context.Context, name string, c target.Content) error {
	n, err := t.begin(ctx, "create", name)
	if err != nil {
		return err
	}
	var data bytes.Buffer
	if err := c.Copy(ctx, &data); err != nil {
		return fmt.Errorf("%s: writing %q: %w", t, name, err)
	}
	if err := t.store(name, data.Bytes(), false); err != nil {
		return err
	}
	return t.ask(Op{N: n, Kind: "create", Name: name, Late: true})
}

func (t *Target) store(name string, data []byte, replace bool) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if old, ok := t.objects[name]; ok && !replace {
		if bytes.Equal(old, data) {
			return nil
		}
		return &target.Conflict{Target: t.String(), Name: name}
	}
	t.objects[name] = slices.Clone(data)
	t.writes[name]++
	return nil
}

// Replace is target.Target's.
func (t *Target) Replace(ctx context.Context, name string, data []byte) error {
	n, err := t.begin(ctx, "replace", name)
	if err != nil {
		return err
	}
	if err := t.store(name, data, true); err != nil {
		return err
	}
	return t.ask(Op{N: n, Kind: "replace", Name: name, Late: true})
}

// List is target.Target's.
func (t *Target) List(ctx context.Context) ([]target.Info, error) {
	if _, err := t.begin(ctx, "list", ""); err != nil {
		return nil, err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	var out []target.Info
	for name, data := range t.objects {
		out = append(out, target.Info{Name: name, Bytes: int64(len(data))})
	}
	slices.SortFunc(out, func(a, b target.Info) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// Sweep is target.Target's: nothing is ever left over.
func (t *Target) Sweep(ctx context.Context) error {
	_, err := t.begin(ctx, "sweep", "")
	return err
}

// Ops is the number of operations so far.
func (t *Target) Ops() int {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.count
}

// Tree is every object's content by its name, for comparing two runs.
func (t *Target) Tree() map[string]string {
	t.mu.Lock()
	defer t.mu.Unlock()
	out := map[string]string{}
	for name, data := range t.objects {
		out[name] = string(data)
	}
	return out
}

// Writes tells how often an object was really stored.
func (t *Target) Writes(name string) int {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.writes[name]
}

// Put stores an object, or removes it with nil, without counting, as a fault from outside would.
func (t *Target) Put(name string, data []byte) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if data == nil {
		delete(t.objects, name)
		return
	}
	t.objects[name] = slices.Clone(data)
}

// ErrLost is a fault for tests: the answer did not arrive.
var ErrLost = errors.New("connection lost")
