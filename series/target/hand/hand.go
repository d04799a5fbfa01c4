// Package hand is a target for places that only a person can post to: it lays everything out in a folder,
// ready to be dragged into a form, with the texts to paste and a list to tick off. A drop that was laid out
// is handed over, not out, until the maker confirms it.
//
// It sends nothing, and knows of the place only how large a file and how many files it takes.
//
// One folder a post:
//
//	vent-minder-1.0.0-early/
//	    files/vent-minder-1.0.0-ce.zip
//	    announcement.txt
//	    TO-DO.txt                  (written last: if it is there, everything is)
//
// Where the place takes fewer files than there are, they lie in post-1-of-2/, post-2-of-2/. A zip that is
// larger than the place takes is dealt out to volumes, each a zip of its own that any program opens; all
// unpack into one folder, and the checksum list inside still covers every file.
package hand

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path"
	"strings"

	"dropwright/series/disk"
	"dropwright/series/target"
	"dropwright/series/target/dir"
)

// Target is an outbox. It is a folder target besides, for the marker and the record of what was laid out.
type Target struct {
	*dir.Target
	limits Limits
}

// Limits are what the place takes; zero is no limit.
type Limits struct {
	MaxFile  int64 // bytes of one file
	MaxFiles int   // files of one post
}

// New is an outbox in a folder, which need not exist yet.
func New(d disk.FS, root string, limits Limits) *Target {
	return &Target{dir.New(d, "hand", root), limits}
}

// Post is one drop to be posted.
type Post struct {
	Name  string // the folder's, such as vent-minder-1.0.0-early
	Title string // heads the tick list
	Files []File
	Texts []Text   // to paste, such as announcement.txt
	Ticks []string // what the person does, in order, after the files are attached
}

// File is something to attach.
type File struct {
	Name    string // such as vent-minder-1.0.0-ce.zip
	Content target.Content
}

// Text is something to paste.
type Text struct {
	Name string
	Data []byte
}

// TooLarge is a file that cannot be brought below the limit.
type TooLarge struct {
	Name         string
	Bytes, Limit int64
}

func (l *TooLarge) Error() string {
	return fmt.Sprintf("%q has %d bytes, the place takes files of at most %d: make it smaller, or leave it out of the bundle and link to it", l.Name, l.Bytes, l.Limit)
}

// TodoName is the tick list, the last object of a post.
const TodoName = "TO-DO.txt"

// LayOut puts a post into its folder. It is idempotent: the same post again changes nothing, another one
// under the same name is a [*target.Conflict]. Errors: [*TooLarge], or the folder's.
func (t *Target) LayOut(ctx context.Context, p Post) error {
	if err := target.CheckName(p.Name); err != nil {
		return err
	}
	files, err := t.fit(p.Files)
	if err != nil {
		return err
	}
	folders := t.group(files)
	for _, g := range folders {
		for _, f := range g.files {
			if err := t.Create(ctx, path.Join(p.Name, g.name, f.Name), f.Content); err != nil {
				return err
			}
		}
	}
	for _, text := range p.Texts {
		if err := t.Create(ctx, path.Join(p.Name, text.Name), target.Text(text.Data)); err != nil {
			return err
		}
	}
	return t.Create(ctx, path.Join(p.Name, TodoName), target.Text(todo(p, folders)))
}

// LaidOut says whether a post of that name lies complete in the outbox.
func (t *Target) LaidOut(ctx context.Context, name string) bool {
	_, err := t.Stat(ctx, path.Join(name, TodoName))
	return err == nil
}

type group struct {
	name  string
	files []placed
}

type placed struct {
	File
	volume, volumes int // 0 of 0 for a whole file
	of              string
}

// group deals the files out to as many posts as the place needs, in order.
func (t *Target) group(files []placed) []group {
	if t.limits.MaxFiles < 1 || len(files) <= t.limits.MaxFiles {
		return []group{{"files", files}}
	}
	posts := (len(files) + t.limits.MaxFiles - 1) / t.limits.MaxFiles
	var out []group
	for i := range posts {
		end := min(len(files), (i+1)*t.limits.MaxFiles)
		out = append(out, group{fmt.Sprintf("post-%d-of-%d", i+1, posts), files[i*t.limits.MaxFiles : end]})
	}
	return out
}

// fit replaces files over the limit by volumes.
func (t *Target) fit(files []File) ([]placed, error) {
	var out []placed
	for _, f := range files {
		if t.limits.MaxFile < 1 || f.Content.Bytes <= t.limits.MaxFile {
			out = append(out, placed{File: f})
			continue
		}
		if !strings.HasSuffix(f.Name, ".zip") {
			return nil, &TooLarge{f.Name, f.Content.Bytes, t.limits.MaxFile}
		}
		volumes, err := split(f, t.limits.MaxFile)
		if err != nil {
			return nil, err
		}
		out = append(out, volumes...)
	}
	return out, nil
}

// Sizes of a zip's records without names, extra fields and comments, in bytes.
// Source: APPNOTE.TXT 6.3.10 sections 4.3.7 (local header), 4.3.12 (central directory), 4.3.16 (end).
const (
	localHeader   = 30
	centralHeader = 46
	endRecord     = 22
	descriptor    = 16 // section 4.3.9, with its signature
)

// maxSplit is the largest bundle that is taken into memory to be split, where its source cannot be read
// from any place; assumed to be past any bundle that a person posts by hand.
const maxSplit = 1 << 30

// split deals a zip's entries out to volumes of at most limit bytes, in their order. Entries are copied as
// they are compressed, so the volumes of one bundle are always the same bytes.
func split(f File, limit int64) ([]placed, error) {
	r, source, err := openZip(f.Content)
	if err != nil {
		return nil, fmt.Errorf("splitting %q: %w", f.Name, err)
	}
	defer source.Close()
	var volumes [][]int // indices of entries
	used := int64(0)
	for i, e := range r.File {
		need := int64(e.CompressedSize64) + localHeader + centralHeader + descriptor + int64(2*len(e.Name)+2*len(e.Extra)+len(e.Comment))
		if need+endRecord > limit {
			return nil, &TooLarge{f.Name + ": " + e.Name, int64(e.CompressedSize64), limit}
		}
		if len(volumes) == 0 || used+need+endRecord > limit {
			volumes = append(volumes, nil)
			used = 0
		}
		last := len(volumes) - 1
		volumes[last] = append(volumes[last], i)
		used += need
	}
	var out []placed
	for i, entries := range volumes {
		// The whole is read again for each volume, and again when it is written: bundles are small beside
		// the patience of whoever posts them by hand, and no second copy of them lies about.
		write := func(w io.Writer) error { return writeVolume(f.Content, entries, w) }
		hash, count := sha256.New(), &counter{}
		if err := write(io.MultiWriter(hash, count)); err != nil {
			return nil, fmt.Errorf("splitting %q: %w", f.Name, err)
		}
		name := fmt.Sprintf("%s-volume-%d-of-%d.zip", strings.TrimSuffix(f.Name, ".zip"), i+1, len(volumes))
		out = append(out, placed{
			File: File{name, target.Content{Bytes: count.n, SHA256: hex.EncodeToString(hash.Sum(nil)), Open: func() (io.ReadCloser, error) {
				r, w := io.Pipe()
				go func() { w.CloseWithError(write(w)) }()
				return r, nil
			}}},
			volume: i + 1, volumes: len(volumes), of: f.Name,
		})
	}
	return out, nil
}

// openZip reads the directory of a zip. The caller closes the source when done with the entries.
func openZip(c target.Content) (*zip.Reader, io.Closer, error) {
	source, err := c.Open()
	if err != nil {
		return nil, nil, err
	}
	at, ok := source.(io.ReaderAt)
	if !ok {
		var data []byte
		if data, err = io.ReadAll(io.LimitReader(source, maxSplit)); err == nil {
			at = bytes.NewReader(data)
		}
	}
	var r *zip.Reader
	if err == nil {
		r, err = zip.NewReader(at, c.Bytes)
	}
	if err != nil {
		source.Close()
		return nil, nil, err
	}
	return r, source, nil
}

func writeVolume(c target.Content, entries []int, w io.Writer) error {
	r, source, err := openZip(c)
	if err != nil {
		return err
	}
	defer source.Close()
	out := zip.NewWriter(w)
	for _, i := range entries {
		if err := out.Copy(r.File[i]); err != nil {
			return err
		}
	}
	return out.Close()
}

type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

// todo writes the tick list.
func todo(p Post, folders []group) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s\n\n", p.Title)
	split := map[string]int{}
	for _, g := range folders {
		if len(g.files) == 0 {
			continue // a post of texts alone
		}
		if len(folders) > 1 {
			fmt.Fprintf(&b, "[ ] a post with the files of %s:\n", g.name)
		} else {
			fmt.Fprintf(&b, "[ ] attach the files:\n")
		}
		for _, f := range g.files {
			fmt.Fprintf(&b, "    %s/%s  %d bytes  SHA-256 %s\n", g.name, f.Name, f.Content.Bytes, f.Content.SHA256)
			if f.volumes > 0 {
				split[f.of] = f.volumes
			}
		}
	}
	for _, f := range p.Files {
		if n := split[f.Name]; n > 0 {
			fmt.Fprintf(&b, "[ ] say in the post: %s comes in %d volumes; unpack all of them into the same folder\n", strings.TrimSuffix(f.Name, ".zip"), n)
		}
	}
	for _, text := range p.Texts {
		fmt.Fprintf(&b, "[ ] paste the text of %s\n", text.Name)
	}
	for _, tick := range p.Ticks {
		fmt.Fprintf(&b, "[ ] %s\n", tick)
	}
	return b.Bytes()
}
