package measure

import (
	"io/fs"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
)

// Content is facts.Design.Content of a design's folder without measuring it: the digest of the manifest and
// of every file that it names, 64 hex digits. It reads each of those files once.
func Content(fsys fs.FS, d *design.Design, manifest []byte) (string, error) {
	out := &facts.Design{}
	if err := listFiles(fsys, d, out); err != nil {
		return "", err
	}
	return content(manifest, out.Files), nil
}
