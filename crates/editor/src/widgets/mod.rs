//! Parts shared by several screens: fields, the picture of the stage, colours and fonts.

pub mod colour;
pub mod fields;
pub mod label_list;
pub mod pick_list;
pub mod points;
pub mod quantity;
pub mod stage_parts;
pub mod stage_picture;
pub mod stage_shadows;
pub mod theme;
