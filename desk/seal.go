package desk

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
)

// Seal makes text unreadable without the service's secret, for passwords of
// other servers that stand among the settings: AES-256-GCM under a key made by
// HKDF (RFC 5869). Empty text stays empty.
func (d *Desk) Seal(text string) (string, error) {
	if text == "" {
		return "", nil
	}
	gcm, err := d.sealer()
	if err != nil {
		return "", err
	}
	nonce := make([]byte, gcm.NonceSize())
	rand.Read(nonce)
	return base64.RawURLEncoding.EncodeToString(gcm.Seal(nonce, nonce, []byte(text), nil)), nil
}

// Unseal gives back what Seal was given. If the secret is another one, as when
// rows were restored without it, it is a Wrong Fault.
func (d *Desk) Unseal(sealed string) (string, error) {
	if sealed == "" {
		return "", nil
	}
	gcm, err := d.sealer()
	if err != nil {
		return "", err
	}
	b, err := base64.RawURLEncoding.DecodeString(sealed)
	if err == nil && len(b) < gcm.NonceSize() {
		err = Faultf(Wrong, "too short")
	}
	if err == nil {
		b, err = gcm.Open(nil, b[:gcm.NonceSize()], b[gcm.NonceSize():], nil)
	}
	if err != nil {
		return "", &Fault{Kind: Wrong, Say: "The password kept for the mail server cannot be read any more. Enter it again in the mail settings.", Err: err}
	}
	return string(b), nil
}

func (d *Desk) sealer() (cipher.AEAD, error) {
	key, err := hkdf.Key(sha256.New, d.Secret, nil, "sealed settings", 32)
	if err != nil {
		return nil, err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	return cipher.NewGCM(block)
}
