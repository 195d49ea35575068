package users

import (
	"context"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"io"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Cost is how dear it is to try a password.
type Cost struct {
	Passes  uint32
	Memory  uint32 // KiB
	Threads uint8
}

// Usual is what RFC 9106, section 4, recommends second: 64 MiB in three passes over four lanes, with a salt of 128 and
// a tag of 256 bits. The first recommendation wants 2 GiB a sign-in.
var Usual = Cost{Passes: 3, Memory: 64 << 10, Threads: 4}

const (
	saltSize = 16
	tagSize  = 32
)

// dearest is what a hash that is read may ask for: one that was meddled with must not take all memory.
var dearest = Cost{Passes: 16, Memory: 1 << 20, Threads: 16}

// hasher hashes two passwords at a time: each takes its memory, and a hundred at once would take all.
type hasher struct {
	cost  Cost
	slots chan struct{}
}

const atOnce = 2

func newHasher(c Cost) *hasher { return &hasher{cost: c, slots: make(chan struct{}, atOnce)} }

// wait waits for its turn.
func (h *hasher) wait(ctx context.Context) (done func(), err error) {
	select {
	case h.slots <- struct{}{}:
		return func() { <-h.slots }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// hash writes a password's hash with its cost and salt, in the form that others write it in:
// $argon2id$v=19$m=..,t=..,p=..$.
func (h *hasher) hash(ctx context.Context, password string, random io.Reader) (string, error) {
	salt := make([]byte, saltSize)
	if _, err := io.ReadFull(random, salt); err != nil {
		return "", err
	}
	done, err := h.wait(ctx)
	if err != nil {
		return "", err
	}
	defer done()
	return encode(h.cost, salt, argon2.IDKey([]byte(password), salt, h.cost.Passes, h.cost.Memory, h.cost.Threads,
		tagSize)), nil
}

// fits tells whether a password has a hash. Without a hash it takes as long and says no, so that nobody learns by the
// clock which names there are.
func (h *hasher) fits(ctx context.Context, password, hash string) (bool, error) {
	cost, salt, want, err := h.cost, make([]byte, saltSize), []byte(nil), error(nil)
	if hash != "" {
		if cost, salt, want, err = decode(hash); err != nil {
			return false, err
		}
	}
	done, err := h.wait(ctx)
	if err != nil {
		return false, err
	}
	defer done()
	size := uint32(max(len(want), tagSize)) //nolint:gosec // the length of a tag that was read, bounded there
	got := argon2.IDKey([]byte(password), salt, cost.Passes, cost.Memory, cost.Threads, size)
	return subtle.ConstantTimeCompare(got, want) == 1, nil
}

var b64 = base64.RawStdEncoding

func encode(c Cost, salt, tag []byte) string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, c.Memory, c.Passes, c.Threads,
		b64.EncodeToString(salt), b64.EncodeToString(tag))
}

func decode(hash string) (c Cost, salt, tag []byte, err error) {
	parts := strings.Split(hash, "$")
	bad := fmt.Errorf("what is kept of a password can't be read")
	if len(parts) != 6 || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return c, nil, nil, bad
	}
	if n, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &c.Memory, &c.Passes, &c.Threads); err != nil || n != 3 {
		return c, nil, nil, bad
	}
	if c.Memory == 0 || c.Memory > dearest.Memory || c.Passes == 0 || c.Passes > dearest.Passes || c.Threads == 0 ||
		c.Threads > dearest.Threads {
		return c, nil, nil, bad
	}
	salt, err1 := b64.DecodeString(parts[4])
	tag, err2 := b64.DecodeString(parts[5])
	if err1 != nil || err2 != nil || len(tag) < tagSize || len(tag) > 2*tagSize {
		return c, nil, nil, bad
	}
	return c, salt, tag, nil
}

// letters are those of a word for one sign-in: none looks like another.
const letters = "abcdefghjkmnpqrstuvwxyz23456789"

// newWord makes a word for one sign-in: 16 letters in groups of four, 77 bits.
func newWord(random io.Reader) (string, error) {
	var b strings.Builder
	one := make([]byte, 1)
	for n := 0; n < 16; {
		if _, err := io.ReadFull(random, one); err != nil {
			return "", err
		}
		if i := int(one[0]) % 32; i < len(letters) {
			if n > 0 && n%4 == 0 {
				b.WriteByte('-')
			}
			b.WriteByte(letters[i])
			n++
		}
	}
	return b.String(), nil
}
