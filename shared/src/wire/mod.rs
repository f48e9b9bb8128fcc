//! The message format: what is said between device and host, and how it is framed.
