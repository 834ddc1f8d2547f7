"""Cases from published vectors: readable YAML, one plain sentence each."""
