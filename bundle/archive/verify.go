package archive

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"sort"

	"golang.org/x/text/unicode/norm"
)

// Report is what a verification found. The bundle is what was packed when Problems is empty and,
// where a signature is wanted, VerifySignature accepts Signature over Sums.
type Report struct {
	Top       string    // top folder of a zip, "" for a folder
	Files     []File    // what is there, sorted, SHA256SUMS and its signature included
	Digest    Hash      // content digest of what is there
	Sums      []byte    // SHA256SUMS as it is there, nil when absent
	Signature []byte    // SHA256SUMS.sig as it is there, nil when absent
	Problems  []Problem // what is wrong, sorted by path; empty when nothing is
}

// sumsMax is the most that SHA256SUMS or its signature may have, in bytes: MaxEntries lines of the
// longest path.
const sumsMax = MaxEntries * (68 + nameMax)

// Verify reads a whole zip: its structure, every content, SHA256SUMS against every content. What is
// wrong with the zip is in the report; an error is one of the machine (r, ctx).
func Verify(ctx context.Context, r io.ReaderAt, size int64) (*Report, error) {
	rep := &Report{}
	a, err := Read(r, size)
	if probs, ok := errors.AsType[*Problems](err); ok {
		rep.Problems = probs.List
		return rep, nil
	}
	if err != nil {
		return nil, err
	}
	rep.Top = a.Top
	p := newPool(ctx, 0)
	defer p.stop()
	files := make([]File, len(a.files))
	err = p.each(len(a.files), func(i int) (err error) {
		files[i], err = a.hash(a.files[i])
		return err
	}, func(err error) error {
		probs, ok := errors.AsType[*Problems](err)
		if !ok {
			return err
		}
		rep.Problems = append(rep.Problems, probs.List...)
		return nil
	})
	if err != nil {
		return nil, err
	}
	rep.Files = files
	read := func(name string) ([]byte, error) { return a.ReadFile(name, sumsMax) }
	return rep, rep.judge(read)
}

// VerifyFolder does for a folder that a bundle was unpacked to what Verify does for the zip.
// Symbolic links and whatever else is not a plain file or folder are problems and not followed.
func VerifyFolder(ctx context.Context, fsys fs.FS) (*Report, error) {
	rep := &Report{}
	var names []string
	err := fs.WalkDir(fsys, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		case d.IsDir():
		case !d.Type().IsRegular():
			rep.Problems = append(rep.Problems, Problem{NotPlain, name, "is not a plain file"})
		case len(names) >= MaxEntries:
			return &Problems{"read", []Problem{{TooMany, "", fmt.Sprintf("more than %d files; this is no unpacked bundle", MaxEntries)}}}
		default:
			names = append(names, name)
		}
		return nil
	})
	if probs, ok := errors.AsType[*Problems](err); ok {
		rep.Problems = append(rep.Problems, probs.List...)
		return rep, nil
	}
	if err != nil {
		return nil, err
	}
	p := newPool(ctx, 0)
	defer p.stop()
	rep.Files = make([]File, len(names))
	err = p.each(len(names), func(i int) (err error) {
		rep.Files[i], err = hashFile(fsys, names[i])
		return err
	}, func(err error) error { return err })
	if err != nil {
		return nil, err
	}
	// macOS gives names back decomposed; the list has them composed.
	sort.Slice(rep.Files, func(i, j int) bool { return rep.Files[i].Path < rep.Files[j].Path })
	return rep, rep.judge(func(name string) ([]byte, error) { return readLimited(fsys, name, sumsMax) })
}

func hashFile(fsys fs.FS, name string) (File, error) {
	r, err := fsys.Open(name)
	if err != nil {
		return File{}, err
	}
	defer r.Close()
	h := sha256.New()
	n, err := io.CopyBuffer(h, r, make([]byte, 64<<10))
	return File{norm.NFC.String(name), n, Hash(h.Sum(nil))}, err
}

func readLimited(fsys fs.FS, name string, limit int64) ([]byte, error) {
	r, err := fsys.Open(name)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err == nil && int64(len(data)) > limit {
		err = fmt.Errorf("%q has more than %d bytes", name, limit)
	}
	return data, err
}

// judge compares the files that are there with SHA256SUMS.
func (rep *Report) judge(read func(string) ([]byte, error)) error {
	rep.Digest = Digest(rep.Files)
	there := map[string]File{}
	for _, f := range rep.Files {
		there[f.Path] = f
	}
	add := func(kind, path, text string) { rep.Problems = append(rep.Problems, Problem{kind, path, text}) }
	for name, into := range map[string]*[]byte{SumsName: &rep.Sums, SignatureName: &rep.Signature} {
		f, ok := there[name]
		if !ok {
			continue
		}
		if f.Size > sumsMax {
			add(BadSums, name, fmt.Sprintf("has %d bytes; the longest that packing writes has %d", f.Size, sumsMax))
			continue
		}
		data, err := read(name)
		if _, damaged := errors.AsType[*Problems](err); damaged {
			continue // reported when it was hashed
		}
		if err != nil {
			return err
		}
		*into = data
	}
	if rep.Sums == nil {
		add(NoSums, SumsName, "is not there, so nothing can be checked against it")
		sortProblems(rep.Problems)
		return nil
	}
	sums, probs := ParseSums(rep.Sums)
	rep.Problems = append(rep.Problems, probs...)
	for _, f := range rep.Files {
		if f.Path == SumsName || f.Path == SignatureName {
			continue
		}
		want, listed := sums[f.Path]
		switch {
		case !listed:
			add(FileExtra, f.Path, "is not in "+SumsName+": it was added after packing")
		case want != f.SHA256:
			add(FileChanged, f.Path, "has other bytes than "+SumsName+" lists: it was changed after packing, or damaged on the way")
		}
	}
	for path := range sums {
		if _, ok := there[path]; !ok {
			add(FileMissing, path, "is listed in "+SumsName+" but not there")
		}
	}
	sortProblems(rep.Problems)
	return nil
}
