package history

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/object"
)

// Freeze is Keeper's: it tags the present commit with the digest in the message. An existing tag with the
// same digest stays, wherever it points: its commit was the present one when the bundle was built.
func (g *Git) Freeze(r Request) (Frozen, error) {
	if err := checkRevision(r.Design, r.Revision); err != nil {
		return Frozen{}, err
	}
	name := tagName(r.Design, r.Revision)
	message := fmt.Sprintf("%s %s\n\ndigest: %s\n", r.Design, r.Revision, r.Digest)
	commit, tag, err := g.tag(name)
	switch {
	case err == nil && tag == nil:
		return Frozen{}, &Taken{r.Design, r.Revision, "by a tag without a digest"}
	case err == nil && digestIn(tag.Message) != r.Digest:
		return Frozen{}, &Taken{r.Design, r.Revision, fmt.Sprintf("with digest %.12s, not %.12s", digestIn(tag.Message), r.Digest)}
	case err == nil:
		return Frozen{name, commit.Hash.String(), signed(tag)}, nil
	case !errors.Is(err, fs.ErrNotExist):
		return Frozen{}, err
	}
	head, err := g.head()
	if err != nil {
		return Frozen{}, err
	}
	if head == nil {
		return Frozen{}, fmt.Errorf("nothing is committed yet: commit series.yaml and the design %q first", r.Design)
	}
	who, err := g.signature(r.Now)
	if err != nil {
		return Frozen{}, err
	}
	tag = &object.Tag{Name: name, Tagger: who, Message: message, TargetType: plumbing.CommitObject, Target: head.Hash}
	if r.Sign != nil {
		text, err := encoded(tag)
		if err != nil {
			return Frozen{}, err
		}
		armoured, err := r.Sign(text)
		if err != nil {
			return Frozen{}, fmt.Errorf("signing tag %q: %w", name, err)
		}
		if !bytes.HasPrefix(armoured, []byte("-----BEGIN SSH SIGNATURE-----\n")) {
			return Frozen{}, fmt.Errorf("signing tag %q: the signer gave no armoured SSH signature", name)
		}
		tag.PGPSignature = strings.TrimRight(string(armoured), "\n") + "\n"
	}
	obj := g.repo.Storer.NewEncodedObject()
	if err := tag.Encode(obj); err != nil {
		return Frozen{}, err
	}
	hash, err := g.repo.Storer.SetEncodedObject(obj)
	if err != nil {
		return Frozen{}, fmt.Errorf("writing tag %q: %w", name, err)
	}
	if err := g.point(plumbing.NewTagReferenceName(name), hash, nil, hash); err != nil {
		return Frozen{}, fmt.Errorf("writing tag %q: %w", name, err)
	}
	return Frozen{name, head.Hash.String(), r.Sign != nil}, nil
}

// encoded is the text of a tag that a signature covers.
func encoded(tag *object.Tag) ([]byte, error) {
	obj := &plumbing.MemoryObject{}
	if err := tag.EncodeWithoutSignature(obj); err != nil {
		return nil, err
	}
	r, err := obj.Reader()
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}

// digestIn finds the line that Freeze wrote.
func digestIn(message string) string {
	for line := range strings.Lines(message) {
		if d, ok := strings.CutPrefix(line, "digest: "); ok {
			return strings.TrimSpace(d)
		}
	}
	return ""
}

func signed(tag *object.Tag) bool {
	return tag.PGPSignature != "" || strings.Contains(tag.Message, "-----BEGIN SSH SIGNATURE-----")
}
