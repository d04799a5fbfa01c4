package feed

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"dropwright/series/ledger"
)

// UUID is an identity (RFC 9562).
type UUID [16]byte

// String writes it in the usual form of 36 characters.
func (u UUID) String() string {
	return fmt.Sprintf("%x-%x-%x-%x-%x", u[:4], u[4:6], u[6:8], u[8:10], u[10:])
}

// URN writes it as an address: urn:uuid:…, which is an IRI.
func (u UUID) URN() string { return "urn:uuid:" + u.String() }

// ParseUUID reads the form of 36 characters, with or without urn:uuid: before it.
func ParseUUID(s string) (u UUID, err error) {
	text := strings.TrimPrefix(s, "urn:uuid:")
	if len(text) != 36 || text[8] != '-' || text[13] != '-' || text[18] != '-' || text[23] != '-' {
		return u, fmt.Errorf("%q is no UUID", s)
	}
	if _, err := hex.Decode(u[:], []byte(strings.ReplaceAll(text, "-", ""))); err != nil {
		return u, fmt.Errorf("%q is no UUID", s)
	}
	return u, nil
}

// Derive is the identity of a name within a space: the first 128 bits of the SHA-256 of both, marked as version 8
// and variant 10 (RFC 9562 section 5.8; appendix B.2 shows this very use). The same space and name give the same
// identity everywhere and for ever.
func Derive(space UUID, name string) UUID {
	h := sha256.New()
	h.Write(space[:])
	h.Write([]byte(name))
	var u UUID
	copy(u[:], h.Sum(nil))
	u[6] = u[6]&0x0f | 0x80
	u[8] = u[8]&0x3f | 0x80
	return u
}

// Root is the space of a ledger's own names. It follows from line 1, which names the series and the second in
// which its ledger was opened, and never changes. The root of an empty ledger is that of nothing.
func Root(log *ledger.Log) UUID {
	first, _ := log.Entry(1)
	sum := sha256.Sum256([]byte("dropwright ledger " + first.Sum))
	return Derive(UUID(sum[:16]), "root")
}

// EntryID is the permanent id of a design's entry in a feed: its UID in the ledger. A design that the ledger knows
// only from a place's index, because the ledger was restored from an older copy, gets one that follows from its
// name.
func EntryID(log *ledger.Log, design string) string {
	if u, err := ParseUUID(log.UID(design)); err == nil {
		return u.URN()
	}
	return Derive(Root(log), "design "+design).URN()
}
