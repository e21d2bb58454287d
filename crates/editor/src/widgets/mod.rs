//! What several screens are made of: fields, the stage's picture, colours and letters.

pub mod fields;
pub mod stage_picture;
pub mod theme;
