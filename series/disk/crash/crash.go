// Package crash is a file system in memory for tests of durability. It remembers what was synced and
// what was not, counts its operations, lets any of them fail, and cuts the power.
//
// What it holds against the code under test is what real systems may do:
//   - file data and names that were not synced may be lost, kept, or kept in part, each on its own;
//   - a write may be cut off in the middle;
//   - after a failed sync the data is gone although later syncs succeed, unless it is written again;
//   - a folder's names are independent of the data of the files that they name.
//
// It is not for production use and knows no symbolic links, permissions or times.
package crash

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"dropwright/series/disk"
)

// ErrDown is what every operation returns after the stop.
var ErrDown = errors.New("crash: the machine is down")

// Op is one operation, numbered from 1.
type Op struct {
	N    int
	Kind string // open, create, read, write, sync, truncate, close, mkdir, rename, link, remove, stat, list, syncdir
	Name string
}

// FS is the file system. Its zero value is not usable; see [New].
type FS struct {
	mu    sync.Mutex
	root  *node
	count int
	down  bool

	// Fault is asked before every operation; a non-nil error is the operation's result. ErrDown stops the
	// machine: a write is cut off in the middle, everything later fails too.
	Fault func(Op) error
	// Quota is the number of bytes that all files may hold together, 0 for no limit.
	Quota int64
}

type node struct {
	dir     bool
	data    []byte
	synced  []byte
	lost    []bool // per byte of data: dropped by a failed sync
	names   map[string]*node
	durable map[string]*node
	gone    map[string]bool // names whose change a failed syncdir dropped
}

func newDir() *node {
	return &node{dir: true, names: map[string]*node{}, durable: map[string]*node{}, gone: map[string]bool{}}
}

// New is an empty file system.
func New() *FS { return &FS{root: newDir()} }

// Ops is the number of operations so far.
func (f *FS) Ops() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.count
}

// StopAt makes the machine go down at operation n.
func (f *FS) StopAt(n int) {
	f.Fault = func(op Op) error {
		if op.N >= n {
			return ErrDown
		}
		return nil
	}
}

// FailAt lets operation n fail with err, and all later ones too if forever.
func (f *FS) FailAt(n int, err error, forever bool) {
	f.Fault = func(op Op) error {
		if op.N == n || forever && op.N > n {
			return err
		}
		return nil
	}
}

// Loss says what a restart does with unsynced data and names.
type Loss int

const (
	// KeepAll is a killed process: the system still has everything.
	KeepAll Loss = iota
	// DropAll is a power cut with nothing written that was not synced.
	DropAll
	// Random keeps or drops each piece on its own, and keeps data in part.
	Random
)

// Restart gives the file system as the next boot finds it. Operation count and faults start anew.
func (f *FS) Restart(loss Loss, seed uint64) *FS {
	f.mu.Lock()
	defer f.mu.Unlock()
	r := rand.New(rand.NewPCG(seed, 1))
	seen := map[*node]*node{}
	return &FS{root: f.root.reboot(loss, r, seen), Quota: f.Quota}
}

func (n *node) reboot(loss Loss, r *rand.Rand, seen map[*node]*node) *node {
	if done := seen[n]; done != nil {
		return done // a second hard link
	}
	if !n.dir {
		out := &node{}
		seen[n] = out
		out.data = n.survives(loss, r)
		out.synced = slices.Clone(out.data)
		out.lost = make([]bool, len(out.data))
		return out
	}
	out := newDir()
	seen[n] = out
	all := map[string]bool{}
	for name := range n.names {
		all[name] = true
	}
	for name := range n.durable {
		all[name] = true
	}
	for _, name := range sorted(all) {
		child := n.durable[name]
		if loss == KeepAll || loss == Random && n.names[name] != child && r.IntN(2) == 0 {
			child = n.names[name]
		}
		if child != nil {
			c := child.reboot(loss, r, seen)
			out.names[name], out.durable[name] = c, c
		}
	}
	return out
}

func (n *node) survives(loss Loss, r *rand.Rand) []byte {
	switch loss {
	case KeepAll:
		return slices.Clone(n.data)
	case DropAll:
		return slices.Clone(n.synced)
	}
	switch r.IntN(4) {
	case 0:
		return slices.Clone(n.data)
	case 1:
		return slices.Clone(n.synced)
	case 2: // the size arrived, the blocks did not
		out := make([]byte, len(n.data))
		copy(out, n.synced)
		return out
	}
	if len(n.data) <= len(n.synced) {
		return slices.Clone(n.synced)
	}
	return slices.Clone(n.data[:len(n.synced)+r.IntN(len(n.data)-len(n.synced)+1)])
}

// begin counts an operation and asks for its fault. The lock must be held.
func (f *FS) begin(kind, name string) error {
	f.count++
	if f.down {
		return ErrDown
	}
	if f.Fault == nil {
		return nil
	}
	err := f.Fault(Op{f.count, kind, name})
	if errors.Is(err, ErrDown) {
		f.down = true
	}
	if err != nil && !errors.Is(err, ErrDown) {
		return &fs.PathError{Op: kind, Path: name, Err: err}
	}
	return err
}

func split(name string) []string {
	name = strings.Trim(filepath.ToSlash(filepath.Clean(name)), "/")
	if name == "" || name == "." {
		return nil
	}
	return strings.Split(name, "/")
}

func (f *FS) find(name string) *node {
	n := f.root
	for _, part := range split(name) {
		if n == nil || !n.dir {
			return nil
		}
		n = n.names[part]
	}
	return n
}

func (f *FS) parent(name string) (*node, string, error) {
	parts := split(name)
	if len(parts) == 0 {
		return nil, "", &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	p := f.find(strings.Join(parts[:len(parts)-1], "/"))
	if p == nil || !p.dir {
		return nil, "", &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return p, parts[len(parts)-1], nil
}

func (p *node) set(name string, n *node) {
	if n == nil {
		delete(p.names, name)
	} else {
		p.names[name] = n
	}
	delete(p.gone, name)
}

// OpenFile is disk.FS's.
func (f *FS) OpenFile(name string, flag int, perm fs.FileMode) (disk.File, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	kind := "open"
	if flag&os.O_CREATE != 0 {
		kind = "create"
	}
	if err := f.begin(kind, name); err != nil {
		return nil, err
	}
	p, base, err := f.parent(name)
	if err != nil {
		return nil, err
	}
	n := p.names[base]
	switch {
	case n == nil && flag&os.O_CREATE == 0:
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	case n == nil:
		n = &node{}
		p.set(base, n)
	case n.dir:
		return nil, &fs.PathError{Op: "open", Path: name, Err: syscall.EISDIR}
	case flag&os.O_EXCL != 0:
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrExist}
	}
	if flag&os.O_TRUNC != 0 {
		n.data, n.lost = nil, nil
	}
	return &file{fs: f, n: n, name: name, append: flag&os.O_APPEND != 0}, nil
}

// Mkdir is disk.FS's.
func (f *FS) Mkdir(name string, _ fs.FileMode) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begin("mkdir", name); err != nil {
		return err
	}
	p, base, err := f.parent(name)
	if err != nil {
		return err
	}
	if p.names[base] != nil {
		return &fs.PathError{Op: "mkdir", Path: name, Err: fs.ErrExist}
	}
	p.set(base, newDir())
	return nil
}

// Rename is disk.FS's.
func (f *FS) Rename(from, to string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begin("rename", to); err != nil {
		return err
	}
	return f.name(from, to, true)
}

// Link is disk.FS's.
func (f *FS) Link(from, to string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begin("link", to); err != nil {
		return err
	}
	return f.name(from, to, false)
}

func (f *FS) name(from, to string, move bool) error {
	p, base, err := f.parent(from)
	if err != nil {
		return err
	}
	q, target, err := f.parent(to)
	if err != nil {
		return err
	}
	n := p.names[base]
	if n == nil {
		return &fs.PathError{Op: "rename", Path: from, Err: fs.ErrNotExist}
	}
	if !move && q.names[target] != nil {
		return &fs.PathError{Op: "link", Path: to, Err: fs.ErrExist}
	}
	if move {
		p.set(base, nil)
	}
	q.set(target, n)
	return nil
}

// Remove is disk.FS's.
func (f *FS) Remove(name string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begin("remove", name); err != nil {
		return err
	}
	p, base, err := f.parent(name)
	if err != nil {
		return err
	}
	n := p.names[base]
	if n == nil {
		return &fs.PathError{Op: "remove", Path: name, Err: fs.ErrNotExist}
	}
	if n.dir && len(n.names) > 0 {
		return &fs.PathError{Op: "remove", Path: name, Err: syscall.ENOTEMPTY}
	}
	p.set(base, nil)
	return nil
}

// Lstat is disk.FS's.
func (f *FS) Lstat(name string) (fs.FileInfo, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begin("stat", name); err != nil {
		return nil, err
	}
	n := f.find(name)
	if n == nil {
		return nil, &fs.PathError{Op: "stat", Path: name, Err: fs.ErrNotExist}
	}
	return info{filepath.Base(name), n}, nil
}

// ReadDir is disk.FS's.
func (f *FS) ReadDir(name string) ([]fs.DirEntry, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begin("list", name); err != nil {
		return nil, err
	}
	n := f.find(name)
	if n == nil || !n.dir {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	var out []fs.DirEntry
	for _, base := range sorted(n.names) {
		out = append(out, fs.FileInfoToDirEntry(info{base, n.names[base]}))
	}
	return out, nil
}

// SyncDir is disk.FS's.
func (f *FS) SyncDir(name string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	err := f.begin("syncdir", name)
	n := f.find(name)
	if n == nil || !n.dir {
		return &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	if errors.Is(err, ErrDown) {
		return err
	}
	changed := map[string]bool{}
	for base, child := range n.names {
		if n.durable[base] != child {
			changed[base] = true
		}
	}
	for base := range n.durable {
		if n.names[base] == nil {
			changed[base] = true
		}
	}
	for base := range changed {
		switch {
		case err != nil:
			n.gone[base] = true
		case n.gone[base]:
		case n.names[base] == nil:
			delete(n.durable, base)
		default:
			n.durable[base] = n.names[base]
		}
	}
	return err
}

// used is the number of bytes in all files.
func (n *node) used(seen map[*node]bool) (total int64) {
	if seen[n] {
		return 0
	}
	seen[n] = true
	total = int64(len(n.data))
	for _, child := range n.names {
		total += child.used(seen)
	}
	return total
}

// Tree is every file's content by its slash path, for comparing two runs.
func (f *FS) Tree() map[string]string {
	f.mu.Lock()
	defer f.mu.Unlock()
	out := map[string]string{}
	var walk func(string, *node)
	walk = func(at string, n *node) {
		for base, child := range n.names {
			if child.dir {
				walk(at+base+"/", child)
			} else {
				out[at+base] = string(child.data)
			}
		}
	}
	walk("", f.root)
	return out
}

// Damage overwrites a file without counting, as a fault of the medium or another program would.
func (f *FS) Damage(name string, data []byte) {
	f.mu.Lock()
	defer f.mu.Unlock()
	p, base, err := f.parent(name)
	if err != nil {
		panic(err) // a test that damages what is not there is wrong
	}
	if data == nil {
		delete(p.names, base)
		delete(p.durable, base)
		return
	}
	n := &node{data: slices.Clone(data), synced: slices.Clone(data), lost: make([]bool, len(data))}
	p.names[base], p.durable[base] = n, n
}

type file struct {
	fs     *FS
	n      *node
	name   string
	at     int
	append bool
}

func (f *file) Read(p []byte) (int, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if err := f.fs.begin("read", f.name); err != nil {
		return 0, err
	}
	if f.at >= len(f.n.data) {
		return 0, io.EOF
	}
	n := copy(p, f.n.data[f.at:])
	f.at += n
	return n, nil
}

func (f *file) ReadAt(p []byte, off int64) (int, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if err := f.fs.begin("read", f.name); err != nil {
		return 0, err
	}
	if off >= int64(len(f.n.data)) {
		return 0, io.EOF
	}
	n := copy(p, f.n.data[off:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

func (f *file) Write(p []byte) (int, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	err := f.fs.begin("write", f.name)
	full := len(p)
	switch {
	case errors.Is(err, ErrDown) || errors.Is(err, syscall.ENOSPC):
		p = p[:len(p)/2] // cut off in the middle
	case err != nil:
		return 0, err
	}
	if f.fs.Quota > 0 {
		if free := f.fs.Quota - f.fs.root.used(map[*node]bool{}); int64(len(p)) > free {
			p = p[:max(free, 0)]
			err = &fs.PathError{Op: "write", Path: f.name, Err: syscall.ENOSPC}
		}
	}
	if f.append {
		f.at = len(f.n.data)
	}
	if need := f.at + len(p); need > len(f.n.data) {
		f.n.data = append(f.n.data, make([]byte, need-len(f.n.data))...)
		f.n.lost = append(f.n.lost, make([]bool, need-len(f.n.lost))...)
	}
	copy(f.n.data[f.at:], p)
	for i := range p {
		f.n.lost[f.at+i] = false
	}
	f.at += len(p)
	if err == nil && len(p) < full {
		err = io.ErrShortWrite
	}
	return len(p), err
}

func (f *file) Sync() error {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	err := f.fs.begin("sync", f.name)
	if errors.Is(err, ErrDown) {
		return err
	}
	if err != nil {
		for i := range f.n.data {
			if i >= len(f.n.synced) || f.n.synced[i] != f.n.data[i] {
				f.n.lost[i] = true
			}
		}
		return err
	}
	old := f.n.synced
	f.n.synced = slices.Clone(f.n.data)
	for i := range f.n.synced {
		if f.n.lost[i] {
			f.n.synced[i] = 0
			if i < len(old) {
				f.n.synced[i] = old[i]
			}
		}
	}
	return nil
}

func (f *file) Truncate(size int64) error {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if err := f.fs.begin("truncate", f.name); err != nil {
		return err
	}
	if int(size) > len(f.n.data) {
		return fmt.Errorf("crash: truncate may only shorten")
	}
	f.n.data, f.n.lost = f.n.data[:size:size], f.n.lost[:size:size]
	return nil
}

func (f *file) Close() error {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	return f.fs.begin("close", f.name)
}

type info struct {
	name string
	n    *node
}

func (i info) Name() string       { return i.name }
func (i info) Size() int64        { return int64(len(i.n.data)) }
func (i info) ModTime() time.Time { return time.Time{} }
func (i info) IsDir() bool        { return i.n.dir }
func (i info) Sys() any           { return nil }
func (i info) Mode() fs.FileMode {
	if i.n.dir {
		return fs.ModeDir | 0o755
	}
	return 0o644
}

func sorted[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
