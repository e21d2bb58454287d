//! Parts shared by several screens: fields, marks of a film, leads before and after, the picture of the stage, colours and fonts.

pub mod colour;
pub mod fields;
pub mod film_marks;
pub mod label_list;
pub mod leads;
pub mod pick_list;
pub mod points;
pub mod quantity;
pub mod stage_parts;
pub mod stage_picture;
pub mod stage_shadows;
pub mod theme;
pub mod waveform;
