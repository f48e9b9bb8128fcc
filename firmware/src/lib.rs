//! The lane device, generic over embedded-hal 1.0.
#![no_std]
