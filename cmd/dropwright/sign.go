package main

import (
	"errors"
	"fmt"
	"net"
	"os"
	"runtime"
	"strings"

	"golang.org/x/crypto/ssh"
	"golang.org/x/crypto/ssh/agent"

	"dropwright/bundle"
	"dropwright/bundle/archive"
)

// signing is a key that signs bundles, opened once for a run.
type signing struct {
	signer ssh.Signer
	about  bundle.Signature
	close  func()
}

// sign signs the list of checksums.
func (s *signing) sign(sums []byte) ([]byte, error) {
	return archive.Sign(s.signer, s.about.Namespace, sums)
}

// into puts the signature into what a bundle needs; a nil signing leaves it unsigned.
func (s *signing) into(o *bundle.PackOptions) {
	if s != nil {
		o.Sign, o.Signed = s.sign, s.about
	}
}

// maxKey is the longest key file read, in bytes: an RSA key of 16,384 bits has some 12,000.
const maxKey = 64 << 10

// openSigning opens what --sign names: "agent" for the one key in the agent, a public key file for that key in
// the agent, or a private key file. Nothing is ever asked for: a key with a passphrase is used through the agent.
func (a *app) openSigning(word, principal string) (*signing, error) {
	if word == "" {
		return nil, nil
	}
	s := &signing{about: bundle.Signature{Namespace: bundle.SignatureNamespace, Principal: principal}, close: func() {}}
	var err error
	switch {
	case word == "agent":
		err = a.agentKey(s, nil)
	case strings.HasSuffix(word, ".pub"):
		var key ssh.PublicKey
		if key, err = a.publicKey(word); err == nil {
			err = a.agentKey(s, key)
		}
	default:
		s.signer, err = a.privateKey(word)
	}
	if err != nil {
		return nil, err
	}
	if strings.HasPrefix(s.signer.PublicKey().Type(), "ecdsa-") || strings.HasPrefix(s.signer.PublicKey().Type(), "sk-") {
		a.ui.say("note: signatures of this kind of key differ each time, and so will the bundle's bytes; an ed25519 key gives the same ones")
	}
	s.about.Key = strings.TrimSpace(string(ssh.MarshalAuthorizedKey(s.signer.PublicKey())))
	return s, nil
}

func (a *app) publicKey(name string) (ssh.PublicKey, error) {
	data, err := readLimited(a.abs(name), maxKey)
	if err != nil {
		return nil, unreadable("name a public key file, such as ~/.ssh/id_ed25519.pub", "--sign %s: %w", name, plainError(err))
	}
	key, _, _, _, err := ssh.ParseAuthorizedKey(data)
	if err != nil {
		return nil, unreadable("name a public key file, such as ~/.ssh/id_ed25519.pub", "--sign %s: it is no public key", name)
	}
	return key, nil
}

// privateKey reads a key file that nobody else may read.
func (a *app) privateKey(name string) (ssh.Signer, error) {
	st, err := os.Stat(a.abs(name))
	if err != nil {
		return nil, unreadable("name a private key file, a public one whose key the agent holds, or agent", "--sign %s: %w", name, plainError(err))
	}
	if runtime.GOOS != "windows" && st.Mode().Perm()&0o077 != 0 { // Windows keeps who may read elsewhere
		return nil, refused("chmod 600 "+name, "--sign %s: others may read this key (mode %04o), so that it may be known already", name, st.Mode().Perm())
	}
	data, err := readLimited(a.abs(name), maxKey)
	if err != nil {
		return nil, unreadable("name a private key file", "--sign %s: %w", name, plainError(err))
	}
	signer, err := ssh.ParsePrivateKey(data)
	var locked *ssh.PassphraseMissingError
	switch {
	case errors.As(err, &locked):
		return nil, refused("ssh-add "+name+", then --sign "+name+".pub: the agent asks for the passphrase, this program never does", "--sign %s: the key has a passphrase", name)
	case err != nil:
		return nil, unreadable("name a private key that ssh-keygen made", "--sign %s: it is no private key", name)
	}
	return signer, nil
}

// agentKey finds a key in the agent: the one named, or the only one.
func (a *app) agentKey(s *signing, want ssh.PublicKey) error {
	socket := a.getenv("SSH_AUTH_SOCK")
	if socket == "" {
		return unreadable("start one with: eval \"$(ssh-agent)\" and ssh-add, or name a key file", "--sign: no ssh-agent runs here (SSH_AUTH_SOCK is not set)")
	}
	conn, err := net.Dial("unix", socket)
	if err != nil {
		return machine("start one with: eval \"$(ssh-agent)\" and ssh-add", "--sign: the ssh-agent does not answer: %w", err)
	}
	signers, err := agent.NewClient(conn).Signers()
	if err != nil {
		conn.Close()
		return machine("check it with ssh-add -l", "--sign: asking the ssh-agent: %w", err)
	}
	var names []string
	for _, x := range signers {
		names = append(names, ssh.FingerprintSHA256(x.PublicKey()))
		if want != nil && string(x.PublicKey().Marshal()) == string(want.Marshal()) {
			s.signer = x
		}
	}
	switch {
	case s.signer != nil:
	case want != nil:
		err = unreadable("ssh-add the private key that belongs to it", "--sign: the ssh-agent does not hold %s", ssh.FingerprintSHA256(want))
	case len(signers) == 0:
		err = unreadable("ssh-add puts one in", "--sign: the ssh-agent holds no key")
	case len(signers) > 1:
		err = usage("name one by its public key file: --sign ~/.ssh/id_ed25519.pub", "--sign agent: the ssh-agent holds %s: %s", plural(len(signers), "key"), strings.Join(names, ", "))
	default:
		s.signer = signers[0]
	}
	if err != nil {
		conn.Close()
		return err
	}
	s.close = func() { conn.Close() }
	return nil
}

// readLimited reads a small file.
func readLimited(name string, limit int64) ([]byte, error) {
	st, err := os.Stat(name)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() || st.Size() > limit {
		return nil, fmt.Errorf("it is no file of at most %d bytes", limit)
	}
	return os.ReadFile(name)
}
